//! The travel scale against the screens' own drawings, sign for sign.

use super::*;
use crate::console::view::samples::{femur, tibia};

/// The drawing without its blank rows, as the screens' page prints it.
fn printed(scale: &Scale, width: usize) -> Vec<String> {
    scale
        .lines(width)
        .into_iter()
        .filter(|line| !line.is_empty())
        .collect()
}

#[test]
fn after_ends_at_76() {
    assert_eq!(
        femur().lines(76),
        [
            "                                         ▼ 1612.5 commanded  (+11.8°)",
            " │········│····─═══╪════════╪════════╪════════╪════════╪════════┼········│",
            "500      750     1000     1250     1500     1750     2000     2250     2500",
            "              ║[(  2                 ▲                2        )]║",
            "        near end 868          zero 1487.5 ± 4              far end 2268",
            "            limit 904                                     limit 2231",
            "        4° spare └─────────── needed −50° … +60° ──────────┘ 10° spare",
            " −90°        −60°       −30°        0°         +30°       +60°        +90°",
        ]
    );
}

#[test]
fn after_ends_at_110() {
    assert_eq!(
        tibia().lines(110),
        [
            "                                                       ▼ 1516 commanded  (−71.0°)",
            "  │··········─═╪════════════╪════════════╪════════════╪════════════╪═══════·····│············│············│",
            " 500          750         1000         1250         1500         1750         2000         2250         2500",
            "             ║(            2                2                         2   )║                   ▲",
            "       near end 702                                                  far end 1912        zero 2290 ± 8",
            "          limit 738                                            limit 1876, guard 1890",
            "              17° spare └───────────── needed −125° … −40° ─────────────┘ 2° spare",
            "         −150°    −135°   −120°    −105°   −90°     −75°    −60°     −45°    −30°     −15°    0°       +15°",
        ]
    );
}

#[test]
fn before_anything_is_known() {
    let scale = Scale {
        guard: Some((1400.0, 1600.0)),
        no_degrees: "not known yet, first the plug, then two marks".into(),
        ..Scale::default()
    };
    assert_eq!(
        printed(&scale, 76),
        [
            " │········│········│········│····────┼────····│········│········│········│",
            "500      750     1000     1250     1500     1750     2000     2250     2500",
            "                                 [       ]",
            "                            guard 1400  guard 1600",
            " degrees: not known yet, first the plug, then two marks",
        ]
    );
    assert_eq!(
        scale.lines(76)[0],
        "",
        "nothing is commanded, and the row stays"
    );
}

fn plugged() -> Scale {
    Scale {
        commanded: Some(Pulse::CENTRE),
        guard: Some((1400.0, 1600.0)),
        way: Some(Way {
            smaller: "down".into(),
            larger: "up".into(),
        }),
        no_degrees: "after two marks".into(),
        ..Scale::default()
    }
}

#[test]
fn after_the_plug() {
    assert_eq!(
        printed(&plugged(), 76),
        [
            "                                     ▼ 1500 commanded",
            " │········│········│········│····────┼────····│········│········│········│",
            "500      750     1000     1250     1500     1750     2000     2250     2500",
            "                                 [       ]",
            "                            guard 1400  guard 1600",
            " down ◄─ this joint ─► up      degrees: after two marks",
        ]
    );
}

#[test]
fn after_rough_bounds() {
    let scale = Scale {
        guard: Some((960.0, 2060.0)),
        ..plugged()
    };
    assert_eq!(
        printed(&scale, 76),
        [
            "                                     ▼ 1500 commanded",
            " │········│·······─┼────────┼────────┼────────┼────────┼──······│········│",
            "500      750     1000     1250     1500     1750     2000     2250     2500",
            "                  [                                      ]",
            "              guard 960                             guard 2060",
            " down ◄─ this joint ─► up      degrees: after two marks",
        ]
    );
}

#[test]
fn after_marks() {
    let scale = Scale {
        commanded: Pulse::from_us(1968.0),
        guard: Some((960.0, 2060.0)),
        zero: Some(Zero {
            us: 1487.5,
            spread: Some(9.0),
        }),
        marks: vec![1009.0, 1011.0, 1487.0, 1490.0, 1965.0],
        needed_deg: Some((-50.0, 60.0)),
        fit: Some(Fit {
            zero_us: 1487.5,
            us_per_deg: 10.60,
            curve: 0.0,
            nominal: false,
        }),
        ..Scale::default()
    };
    assert_eq!(
        printed(&scale, 76),
        [
            "                             1968 commanded  (+45.3°) ▼",
            " │········│·······─┼────────┼────────┼────────┼────────┼──······│········│",
            "500      750     1000     1250     1500     1750     2000     2250     2500",
            "                  [2                 ▲                •  ]",
            "              guard 960       zero 1487.5 ± 9       guard 2060",
            "                 └─────────── needed −50° … +60° ──────────┘",
            " −90°        −60°       −30°        0°         +30°       +60°        +90°",
        ]
    );
}

#[test]
fn a_limit_in_its_guards_cell_is_labelled_for_both() {
    let lines = femur().lines(110);
    assert_eq!(
        lines[3].trim_start(),
        "║ (    ••                       ▲                        2             ) ║"
    );
    assert_eq!(
        lines[5].trim_start(),
        "limit 904, guard 895                                                limit 2231, guard 2240"
    );
}

#[test]
fn a_zero_outside_is_written_at_the_edge() {
    let above = Scale {
        zero: Some(Zero {
            us: 2710.0,
            spread: None,
        }),
        ..Scale::default()
    };
    let line = &above.lines(76)[4];
    assert!(line.ends_with("zero 2710 ►"), "{line}");
    assert_eq!(line.chars().count(), 74, "ends under the 2500 tick");
    assert_eq!(
        above.lines(76)[3],
        "",
        "no caret for what is not on the scale"
    );
    let below = Scale {
        zero: Some(Zero {
            us: 310.0,
            spread: Some(7.0),
        }),
        ..Scale::default()
    };
    assert_eq!(below.lines(76)[4], " ◄ zero 310 ± 7");
}

#[test]
fn needed_travel_that_is_missing_is_crossed_and_told() {
    let scale = Scale {
        far_end: Some(2120.0),
        limits: Some((904.0, 2082.2)),
        ..femur()
    };
    // 60° is at 2124.7; the limit at 2082.2 keeps 4.0° of it.
    let line = &scale.lines(76)[6];
    assert_eq!(
        line,
        "        4° spare └───── needed −50° … +60°, short 4° ─────××"
    );
    let scale = Scale {
        limits: Some((904.0, 2122.0)),
        ..femur()
    };
    assert!(
        !scale.lines(76)[6].contains("short"),
        "a quarter degree is not told"
    );
}

#[test]
fn what_is_left_beyond_the_needed_travel_stands_on_its_own_side_rounded_down_once_limits_or_ends_tell_it()
 {
    let row = |scale: &Scale, width| scale.lines(width)[6].trim().to_owned();
    let bare = "└─────────── needed −50° … +60° ──────────┘";
    let mut scale = Scale {
        limits: None,
        near_end: None,
        far_end: None,
        ..femur()
    };
    assert_eq!(row(&scale, 76), bare, "what a board can send tells nothing");
    // By hand: (2268 − 1487.5) / 10.62 = 73.5°.
    scale.far_end = Some(2268.0);
    assert_eq!(row(&scale, 76), format!("{bare} 13° spare"));
    // The other sense: the same degrees stand on the other side. (1500 − 868) / 10 = 63.2°, (1500 − 2268) / 10 = −76.8°.
    scale.near_end = Some(868.0);
    scale.fit = Some(Fit {
        zero_us: 1500.0,
        us_per_deg: -10.0,
        curve: 0.0,
        nominal: false,
    });
    let other = row(&scale, 76);
    assert!(other.starts_with("3° spare └─"), "{other}");
    assert!(other.ends_with("─┘ 26° spare"), "{other}");
    // Just enough is told too.
    scale.limits = Some((900.0, 2000.0));
    let none = row(&scale, 76);
    assert!(
        none.starts_with("0° spare └─") && none.ends_with("─┘ 0° spare"),
        "{none}"
    );
    // Close to the edge the number alone has room, or nothing.
    scale.limits = Some((500.0, 2500.0));
    for (needed_high, begins) in [(93.5, "6° └─"), (97.5, "  └─")] {
        scale.needed_deg = Some((-20.0, needed_high));
        let row = &scale.lines(76)[6];
        assert!(row.starts_with(begins), "{row}");
        assert!(row.ends_with("─┘ 80° spare"), "{row}");
    }
}

#[test]
fn a_negative_sense_falls_to_the_right() {
    let scale = Scale {
        fit: Some(Fit {
            zero_us: 1500.0,
            us_per_deg: -10.0,
            curve: 0.0,
            nominal: false,
        }),
        needed_deg: Some((-50.0, 60.0)),
        ..Scale::default()
    };
    let lines = scale.lines(76);
    assert_eq!(
        lines[7],
        "    +90°      +60°       +30°       0°         −30°       −60°      −90°"
    );
    assert!(lines[6].contains("└─────────") && lines[6].contains(" needed +60° … −50° "));
}

#[test]
fn a_curved_fit_is_uneven_and_turns_back_nowhere() {
    let fit = Fit {
        zero_us: 1500.0,
        us_per_deg: 10.0,
        curve: 0.02,
        nominal: false,
    };
    for deg in [-90.0, -30.0, 0.0, 45.0, 90.0] {
        let back = fit.deg_at(fit.us_at(deg)).expect("an angle");
        assert!((back - deg).abs() < 1e-9, "{deg} came back as {back}");
    }
    let scale = Scale {
        fit: Some(fit),
        ..Scale::default()
    };
    let columns: Vec<usize> = {
        let line: Vec<char> = scale.lines(76)[7].chars().collect();
        (0..line.len()).filter(|i| line[*i] == '°').collect()
    };
    let gaps: Vec<usize> = columns.windows(2).map(|pair| pair[1] - pair[0]).collect();
    assert!(gaps.first() < gaps.last(), "{gaps:?} grow with the curve");
}

#[test]
fn a_nominal_scale_says_so() {
    let mut scale = femur();
    scale.fit = scale.fit.map(|fit| Fit {
        nominal: true,
        ..fit
    });
    for width in [76, 110] {
        let lines = scale.lines(width);
        assert!(lines[0].contains("(+11.8° nominal)"), "{}", lines[0]);
        assert!(lines[7].contains("nominal"), "{}", lines[7]);
    }
}

#[test]
fn a_target_is_a_ghost_at_the_end_of_dots() {
    let scale = Scale {
        target: Pulse::from_us(1750.0),
        ..plugged()
    };
    assert_eq!(
        scale.lines(76)[0],
        "                      1500 commanded ▼∙∙∙∙∙∙∙∙○"
    );
}

#[test]
fn labels_do_not_move_with_the_pulse() {
    let still = femur().lines(76);
    for us in (500..=2500).step_by(10) {
        let moved = Scale {
            commanded: Pulse::from_us(f64::from(us)),
            ..femur()
        }
        .lines(76);
        assert_eq!(moved[1..], still[1..]);
        assert!(moved[0].chars().count() <= 76, "{us}: {}", moved[0]);
        assert!(moved[0].contains("commanded"), "{us}");
    }
}

#[test]
fn every_width_and_any_numbers_draw() {
    for width in 0..200 {
        assert_eq!(femur().lines(width).len(), ROWS);
        for line in tibia().lines(width) {
            assert!(line.chars().count() <= width);
        }
    }
    let wild = Scale {
        commanded: Pulse::from_us(20_000.0),
        target: Pulse::from_us(0.0),
        guard: Some((f64::NEG_INFINITY, f64::INFINITY)),
        limits: Some((2500.0, 500.0)),
        near_end: Some(1e300),
        far_end: Some(f64::NAN),
        zero: Some(Zero {
            us: -1e300,
            spread: Some(f64::NAN),
        }),
        marks: vec![f64::NAN; 12],
        needed_deg: Some((1e9, -1e9)),
        fit: Some(Fit {
            zero_us: 0.0,
            us_per_deg: 0.0,
            curve: -1.0,
            nominal: true,
        }),
        ..Scale::default()
    };
    for width in 0..200 {
        assert_eq!(wild.lines(width).len(), ROWS);
    }
}
