//! The pictures: to scale, solid where measured, dotted where only commanded, with their bounds and paths.

use super::*;
use crate::console::theme::Strokes;

fn side_view(leg: &LegView, look: Look) -> Vec<Vec<char>> {
    let area = Rect::new(0, 0, 40, 14);
    let mut buf = Buffer::empty(area);
    leg.draw(&mut Pen::new(&mut buf, area, look), false);
    rows(&buf)
}

fn rows(buf: &Buffer) -> Vec<Vec<char>> {
    let sign = |x, y| buf[(x, y)].symbol().chars().next().unwrap_or(' ');
    (0..buf.area.height)
        .map(|y| (0..buf.area.width).map(|x| sign(x, y)).collect())
        .collect()
}

/// Column and row of each cell with this sign, as fractions of nothing: whole cells.
fn cells_of(rows: &[Vec<char>], sign: char) -> Vec<(f64, f64)> {
    let mut found = Vec::new();
    for (y, row) in rows.iter().enumerate() {
        for (x, here) in row.iter().enumerate() {
            if *here == sign {
                found.push((x as f64, y as f64));
            }
        }
    }
    found
}

/// Dots set in Braille signs.
fn dots(rows: &[Vec<char>]) -> u32 {
    let signs = rows.iter().flatten().map(|sign| u32::from(*sign));
    signs
        .filter(|sign| (0x2800..=0x28FF).contains(sign))
        .map(|sign| (sign & 0xFF).count_ones())
        .sum()
}

fn bare() -> LegView {
    LegView {
        bounds: Vec::new(),
        positive: None,
        chosen: None,
        ..samples::leg()
    }
}

#[test]
fn the_side_view_is_to_scale() {
    let leg = bare();
    let drawn = side_view(&leg, Look::default());
    let joints = cells_of(&drawn, '●');
    assert_eq!(joints.len(), 3, "coxa, femur, knee");
    // The knee is drawn above the row of the two axes, so the reading order is knee, coxa, femur.
    let (knee, coxa) = (joints[0], joints[1]);
    let foot = cells_of(&drawn, '○')[0];
    // A cell is twice as high as it is wide: one scale must serve both directions, to within the cells' own size.
    let mm_per_column = leg.points_mm[3][0] / (foot.0 - coxa.0);
    for (cell, [out_mm, up_mm]) in [(knee, leg.points_mm[2]), (foot, leg.points_mm[3])] {
        let out = (cell.0 - coxa.0) * mm_per_column;
        let up = (coxa.1 - cell.1) * 2.0 * mm_per_column;
        assert!(
            (out - out_mm).abs() <= 1.5 * mm_per_column,
            "{out} for {out_mm}"
        );
        assert!(
            (up - up_mm).abs() <= 2.0 * mm_per_column,
            "{up} for {up_mm}"
        );
    }
}

#[test]
fn the_robot_is_to_scale_and_its_front_is_up() {
    let area = Rect::new(0, 0, 61, 31);
    let mut buf = Buffer::empty(area);
    let robot = RobotPicture {
        chosen: None,
        ..samples::robot()
    };
    robot.draw(&mut Pen::new(&mut buf, area, Look::default()));
    let drawn = rows(&buf);
    let feet = cells_of(&drawn, '∙');
    assert_eq!(feet.len(), 6);
    let named = |name: &str| {
        let leg = robot
            .legs
            .iter()
            .find(|leg| leg.name == name)
            .expect("a leg");
        leg.points_mm[3]
    };
    // From the top, each row from the left: LF RF, LM RM, LR RR (LF is turned a little, so it stands alone).
    let order = ["LF", "RF", "LM", "RM", "LR", "RR"];
    let mut sorted = feet.clone();
    sorted.sort_by(|a, b| {
        ((a.1 / 4.0).round(), a.0)
            .partial_cmp(&((b.1 / 4.0).round(), b.0))
            .expect("numbers")
    });
    let width_mm = named("LM")[1] - named("RM")[1];
    let mm_per_column = width_mm / (sorted[3].0 - sorted[2].0);
    let centre = ((sorted[2].0 + sorted[3].0) / 2.0, sorted[2].1);
    for (cell, name) in sorted.iter().zip(order) {
        let [forward_mm, left_mm, _] = named(name);
        let left = (centre.0 - cell.0) * mm_per_column;
        let forward = (centre.1 - cell.1) * 2.0 * mm_per_column;
        assert!(
            (left - left_mm).abs() <= 1.5 * mm_per_column,
            "{name}: {left} for {left_mm}"
        );
        assert!(
            (forward - forward_mm).abs() <= 2.0 * mm_per_column,
            "{name}: {forward} for {forward_mm}"
        );
    }
}

#[test]
fn measured_is_solid_and_commanded_only_is_dotted() {
    let solid = side_view(&bare(), Look::default());
    let dotted = side_view(
        &LegView {
            measured: [false; 3],
            ..bare()
        },
        Look::default(),
    );
    assert!(
        dots(&dotted) * 2 < dots(&solid),
        "{} and {}",
        dots(&dotted),
        dots(&solid)
    );
    assert!(dots(&dotted) > 10);
    let plain = Look {
        strokes: Strokes::Plain,
        ..Look::default()
    };
    let solid = side_view(&bare(), plain);
    assert!(!cells_of(&solid, '\\').is_empty() && !cells_of(&solid, '─').is_empty());
    assert!(cells_of(&solid, '∙').is_empty());
    let dotted = side_view(
        &LegView {
            measured: [false; 3],
            ..bare()
        },
        plain,
    );
    assert!(cells_of(&dotted, '\\').is_empty() && cells_of(&dotted, '─').is_empty());
    assert!(cells_of(&dotted, '∙').len() > 10);
}

#[test]
fn bounds_and_numbers_stand_at_their_joint() {
    let text: Vec<String> = side_view(&samples::leg(), Look::default())
        .into_iter()
        .map(|row| row.into_iter().collect())
        .collect();
    let all = text.join("\n");
    for words in [
        "coxa −4.0°",
        "femur +11.8°",
        "knee −71.0°",
        "+70°",
        "−55°",
        "▲ +",
        "│up",
        ")║",
    ] {
        assert!(all.contains(words), "{words} is missing:\n{all}");
    }
    let row_of = |words: &str| {
        text.iter()
            .position(|row| row.contains(words))
            .expect("drawn")
    };
    assert!(
        row_of("+70°") < row_of("coxa") && row_of("coxa") <= row_of("−55°"),
        "{all}"
    );
}

#[test]
fn a_path_runs_from_the_foot_to_what_stops_it() {
    let toward = |to_mm: [f64; 2]| {
        let path = Some(FootPath {
            to_mm,
            stop: Some("reach".into()),
        });
        let drawn = side_view(&LegView { path, ..bare() }, Look::default());
        let text: Vec<String> = drawn
            .into_iter()
            .map(|row| row.into_iter().collect())
            .collect();
        text.join("\n")
    };
    let [out, up] = bare().points_mm[3];
    for (to, signs) in [
        ([out + 40.0, up], ["∙►", "┤"]),
        ([out - 60.0, up], ["◄∙", "├"]),
        ([out, up + 60.0], ["▲", "┬"]),
        ([out, up - 40.0], ["▼", "┴"]),
    ] {
        let drawn = toward(to);
        for sign in signs.into_iter().chain(["reach"]) {
            assert!(drawn.contains(sign), "{sign} is missing:\n{drawn}");
        }
    }
}

#[test]
fn wild_positions_draw_without_a_panic() {
    for wild in [
        f64::NAN,
        f64::INFINITY,
        f64::NEG_INFINITY,
        1e300,
        -1e300,
        0.0,
    ] {
        let leg = LegView {
            points_mm: [[wild; 2]; 4],
            bounds: vec![
                Bound {
                    joint: 2,
                    kind: BoundKind::End,
                    direction_deg: wild,
                    text: "x".into()
                };
                2
            ],
            path: Some(FootPath {
                to_mm: [wild, -wild],
                stop: None,
            }),
            ..samples::leg()
        };
        side_view(&leg, Look::default());
        let mut robot = samples::robot();
        robot.legs[0].points_mm = [[wild; 3]; 4];
        robot.support_mm = vec![[wild; 2]];
        robot.centre_mm = Some([wild; 2]);
        let area = Rect::new(0, 0, 40, 20);
        robot.draw(&mut Pen::new(
            &mut Buffer::empty(area),
            area,
            Look::default(),
        ));
        let mut screen = samples::foot();
        if let Page::FootJog(foot) = &mut screen.page {
            foot.top.points_mm = [[wild; 2]; 4];
            foot.top.limits_deg = Some((wild, -wild));
        }
        draw(&screen, Look::default(), area, &mut Buffer::empty(area));
        let area = Rect::new(0, 0, 130, 40);
        draw(&screen, Look::default(), area, &mut Buffer::empty(area));
    }
}

#[test]
fn the_other_arrows_ends_are_in_the_picture_and_their_words_beside_it() {
    let end = |to_mm| FootPath { to_mm, stop: None };
    let mut screen = samples::foot();
    let Page::FootJog(foot) = &mut screen.page else {
        panic!("the page is the foot's");
    };
    foot.side.ends = vec![
        end([60.0, -75.6]),
        end([149.9, -20.0]),
        end([149.9, -110.0]),
    ];
    foot.top.ends = vec![end([149.5, 60.0]), end([149.5, -40.0])];
    foot.ways = vec![
        "free  ← 89    → 24    ↑ 55    ↓ 34   mm".into(),
        "then  fold    tibia   femur   tibia".into(),
    ];
    let area = Rect::new(0, 0, 80, 24);
    let mut buf = Buffer::empty(area);
    draw(&screen, Look::default(), area, &mut buf);
    let drawn = rows(&buf);
    let side: Vec<Vec<char>> = drawn.iter().map(|row| row[..40].to_vec()).collect();
    let foot = cells_of(&side, '○')[0];
    for (sign, dx, dy) in [('├', -1.0, 0.0), ('┬', 0.0, -1.0), ('┴', 0.0, 1.0)] {
        let at = cells_of(&side, sign);
        assert_eq!(at.len(), 1, "{sign}");
        let (x, y) = (at[0].0 - foot.0, at[0].1 - foot.1);
        // On the foot's own row or column, a cell of rounding aside, on the arrow's side.
        assert!(
            x * dx >= 0.0 && y * dy >= 0.0 && (x * dx + y * dy) > 1.0,
            "{sign} {x} {y}"
        );
        assert!(
            (x * dy).abs() <= 1.0 && (y * dx).abs() <= 1.0,
            "{sign} {x} {y}"
        );
    }
    let top: Vec<Vec<char>> = drawn[..12].iter().map(|row| row[41..].to_vec()).collect();
    assert_eq!(
        (cells_of(&top, '┬').len(), cells_of(&top, '┴').len()),
        (1, 1)
    );
    let text: Vec<String> = drawn.iter().map(|row| row.iter().collect()).collect();
    let at = |words: &str| {
        text.iter()
            .position(|row| row.contains(words))
            .expect("drawn")
    };
    let free = at("free  ← 89    → 24    ↑ 55    ↓ 34   mm");
    assert_eq!(at("then  fold    tibia   femur   tibia"), free + 1);
    assert_eq!(at("at most 250 mm/s while jogging"), free + 2);
}
