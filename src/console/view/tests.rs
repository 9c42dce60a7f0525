//! Whole screens: against the drawn ones, as snapshots, in every size, and by style.

use ratatui::style::{Color, Modifier};

use super::*;
use crate::console::theme::{Strokes, Theme};

fn drawn(screen: &Screen, look: Look, width: u16, height: u16) -> Buffer {
    let area = Rect::new(0, 0, width, height);
    let mut buf = Buffer::empty(area);
    draw(screen, look, area, &mut buf);
    buf
}

/// A screen as lines of text, blanks at their ends included.
fn lines(buf: &Buffer) -> Vec<String> {
    (0..buf.area.height)
        .map(|y| (0..buf.area.width).map(|x| buf[(x, y)].symbol()).collect())
        .collect()
}

/// Columns and rows, from and up to but not including.
type Part = (std::ops::Range<usize>, std::ops::Range<usize>);

/// Compares a screen with the wireframe of that name, sign for sign, but for the parts that cannot hold:
/// the pictures, which are drawn to scale from real angles here and by hand there.
fn same_as_drawn(name: &str, screen: &Screen, pictures: &[Part]) {
    let path = format!(
        "{}/tests/data/screens/{name}.txt",
        env!("CARGO_MANIFEST_DIR")
    );
    let text = std::fs::read_to_string(&path).expect("the wireframe is in tests/data/screens");
    let wanted: Vec<Vec<char>> = text.lines().map(|line| line.chars().collect()).collect();
    let (width, height) = (wanted[0].len(), wanted.len());
    let buf = drawn(screen, Look::default(), width as u16, height as u16);
    let masked = |x: usize, y: usize| {
        pictures
            .iter()
            .any(|(xs, ys)| xs.contains(&x) && ys.contains(&y))
    };
    let mask = |line: &[char], y: usize| -> String {
        line.iter()
            .enumerate()
            .map(|(x, sign)| if masked(x, y) { ' ' } else { *sign })
            .collect()
    };
    let mut compared = 0;
    for (y, line) in lines(&buf).iter().enumerate() {
        let line: Vec<char> = line.chars().collect();
        assert_eq!(mask(&line, y), mask(&wanted[y], y), "{name}, row {}", y + 1);
        compared += (0..width).filter(|x| !masked(*x, y)).count();
    }
    assert!(
        compared * 2 > width * height,
        "{name}: more than half must be compared"
    );
}

#[test]
fn home_is_as_drawn() {
    same_as_drawn("home-80", &samples::home(), &[(0..39, 2..20)]);
    same_as_drawn("home-120", &samples::home(), &[(0..41, 2..19)]);
}

#[test]
fn jog_is_as_drawn() {
    same_as_drawn("jog-80", &samples::jog(), &[(0..36, 2..12)]);
    same_as_drawn(
        "jog-120",
        &samples::jog(),
        &[(0..40, 2..19), (40..76, 2..16)],
    );
}

#[test]
fn first_run_is_as_drawn() {
    // At 120 columns the foot line has three blanks between entries on every page, the wireframe two on this one.
    let parts = [(81..120, 2..20), (0..120, 35..36)];
    same_as_drawn("first-none-80", &samples::first_none(), &[]);
    same_as_drawn("first-none-120", &samples::first_none(), &parts);
    same_as_drawn("first-board-80", &samples::first_board(), &[]);
    same_as_drawn("first-board-120", &samples::first_board(), &parts);
}

#[test]
fn help_and_big_view_are_as_drawn() {
    same_as_drawn("help-80", &samples::help(), &[]);
    same_as_drawn("help-120", &samples::help(), &[]);
    same_as_drawn("big-80", &samples::big(), &[]);
}

#[test]
fn foot_jog_is_as_drawn() {
    same_as_drawn(
        "foot-80",
        &samples::foot(),
        &[(0..36, 3..16), (36..40, 13..15), (41..80, 4..11)],
    );
    same_as_drawn(
        "foot-120",
        &samples::foot(),
        &[
            (0..40, 3..19),
            (40..76, 3..16),
            (76..79, 13..15),
            (82..120, 4..11),
        ],
    );
}

#[test]
fn plugs_is_as_drawn() {
    same_as_drawn("plugs-80", &samples_guided::plugs(), &[(0..40, 2..19)]);
    // The wireframe counts and words the title a little otherwise where there is more room.
    same_as_drawn(
        "plugs-120",
        &samples_guided::plugs(),
        &[(0..40, 2..19), (0..120, 1..2)],
    );
}

#[test]
fn marks_is_as_drawn() {
    same_as_drawn("marks-80", &samples_guided::marks(), &[(5..40, 3..13)]);
    same_as_drawn("marks-120", &samples_guided::marks(), &[(6..65, 4..14)]);
}

#[test]
fn an_angle_stands_once_under_marks_that_are_hardly_a_degree_apart() {
    let mut screen = samples_guided::marks();
    let Page::Marks(marks) = &mut screen.page else {
        panic!("Marks");
    };
    // −0.4° and its middle with +0.7° are 0° in whole degrees.
    for (dot, deg) in marks.dots.iter_mut().zip([-0.4, -0.4, 0.7, 0.7, 0.7, 0.7]) {
        dot.at_deg = deg;
    }
    let rows = lines(&drawn(&screen, Look::default(), 80, 24));
    let angles: Vec<&str> = rows[12].split_whitespace().take(2).collect();
    assert_eq!(angles, ["0°", "+1°"]);
}

#[test]
fn ends_is_as_drawn() {
    // The foot line has two blanks between entries on every page, the wireframe more in one place here.
    same_as_drawn("ends-80", &samples_guided::ends(), &[(0..80, 23..24)]);
    same_as_drawn(
        "ends-120",
        &samples_guided::ends(),
        &[(80..120, 2..19), (0..120, 35..36)],
    );
}

/// Every page, with its overlays, by name.
fn every_screen() -> Vec<(String, Screen)> {
    let mut screens: Vec<(String, Screen)> = vec![
        ("home".into(), samples::home()),
        ("jog".into(), samples::jog()),
        ("first-none".into(), samples::first_none()),
        ("first-board".into(), samples::first_board()),
        ("big".into(), samples::big()),
        ("foot".into(), samples::foot()),
        ("plugs".into(), samples_guided::plugs()),
        ("marks".into(), samples_guided::marks()),
        ("ends".into(), samples_guided::ends()),
        ("guided".into(), samples_guided::guided()),
        ("body".into(), samples::body()),
        ("dialog".into(), samples::dialog()),
        ("field".into(), samples::typing()),
        ("list".into(), samples::list()),
        ("alarm".into(), samples::alarm()),
    ];
    for tab in [
        HelpTab::Keys,
        HelpTab::Glyphs,
        HelpTab::Scale,
        HelpTab::Words,
    ] {
        let mut screen = samples::help();
        if let Some(Overlay::Help(help)) = &mut screen.overlay {
            help.tab = tab;
            help.entries[5].off = Some("the pin is limp: w wakes it".into());
        }
        screens.push((format!("help-{tab:?}").to_lowercase(), screen));
    }
    screens
}

#[test]
fn screens_as_snapshots() {
    for (name, screen) in every_screen() {
        for (width, height) in [(80, 24), (120, 36)] {
            let text = lines(&drawn(&screen, Look::default(), width, height)).join("\n");
            insta::assert_snapshot!(format!("{name}-{width}"), text);
        }
    }
    let plain = Look {
        strokes: Strokes::Plain,
        ..Look::default()
    };
    let ascii = Look {
        ascii: true,
        ..Look::default()
    };
    for (name, screen) in [
        ("home", samples::home()),
        ("jog", samples::jog()),
        ("big", samples::big()),
    ] {
        for (kind, look) in [("plain", plain), ("ascii", ascii)] {
            let text = lines(&drawn(&screen, look, 80, 24)).join("\n");
            insta::assert_snapshot!(format!("{name}-80-{kind}"), text);
        }
    }
}

#[test]
fn the_robot_turns_by_quarters_and_may_have_one_to_eight_legs() {
    let mut text = String::new();
    for turn in 0..4 {
        text += &picture(&RobotPicture {
            turn,
            ..samples::robot()
        });
    }
    for legs in 1..=8 {
        text += &picture(&samples::robot_of(legs));
    }
    insta::assert_snapshot!("robots", text);
}

fn picture(robot: &RobotPicture) -> String {
    let area = Rect::new(0, 0, 39, 18);
    let mut buf = Buffer::empty(area);
    robot.draw(&mut Pen::new(&mut buf, area, Look::default()));
    lines(&buf).join("\n") + "\n=======\n"
}

#[test]
fn the_word_front_covers_nothing_of_the_legs_and_of_the_line_between_the_feet() {
    for legs in 1..=8 {
        let robot = samples::robot_of(legs);
        let covered = |turn| {
            let with = picture(&RobotPicture {
                turn,
                ..robot.clone()
            });
            let word = with.find("front").map(|at| with[..at].chars().count());
            let word = word.unwrap_or_else(|| panic!("{legs} legs, turn {turn}:\n{with}"));
            let around: String = with.chars().skip(word.max(1) - 1).take(7).collect();
            around != " front " && !around.starts_with("\nfront")
        };
        let quarters: &[u8] = if legs > 6 { &[0, 2] } else { &[0, 1, 2, 3] };
        for turn in quarters {
            assert!(!covered(*turn), "{legs} legs, turn {turn}");
        }
    }
}

#[test]
fn every_leg_and_its_key_are_in_the_picture_however_it_is_turned() {
    for turn in 0..4 {
        let picture = picture(&RobotPicture {
            turn,
            chosen: Some((4, None)),
            ..samples::robot()
        });
        for words in [
            ["e LF", "LF e"],
            ["d LM", "LM d"],
            ["c LR", "LR c"],
            ["r RF", "RF r"],
            ["[f RM]", "[RM f]"],
            ["v RR", "RR v"],
        ] {
            assert!(
                words.iter().any(|w| picture.contains(w)),
                "{words:?} at turn {turn}:\n{picture}"
            );
        }
        assert!(picture.contains("front"), "turn {turn}:\n{picture}");
        assert!(
            picture.contains(['▲', '◄', '▼', '►'][usize::from(turn)]),
            "{picture}"
        );
    }
    for legs in 1..=8 {
        let picture = picture(&samples::robot_of(legs));
        for leg in 0..legs {
            assert!(
                picture.contains(&format!("L{leg}")),
                "leg {leg} of {legs}:\n{picture}"
            );
        }
    }
}

/// The scale rests on the build of the robot, not on its pose.
#[test]
fn the_robot_does_not_jump_while_a_leg_moves() {
    let still = picture(&samples::robot());
    let mut moved = samples::robot();
    // LF straight up: as short from above as can be, its links as long as before.
    let [x, y, z] = moved.legs[0].points_mm[1];
    moved.legs[0].points_mm[2] = [x, y, z + 67.0];
    moved.legs[0].points_mm[3] = [x, y, z + 67.0 + 104.0];
    let moved = picture(&moved);
    assert_ne!(still, moved);
    let others = |picture: &str| -> Vec<String> {
        let lines = picture.lines().enumerate();
        lines
            .map(|(y, line)| line.chars().skip(if y < 10 { 20 } else { 0 }).collect())
            .collect()
    };
    assert_eq!(others(&still), others(&moved));
}

/// Every size is drawn, and every page in an eleventh of the sizes, so in every width and every height.
#[test]
fn every_size_draws_and_every_page_in_every_width_and_height() {
    let mut screens = every_screen();
    for legs in 1..=8 {
        let mut screen = samples::home();
        if let Page::Home(home) = &mut screen.page {
            home.robot = samples::robot_of(legs);
            home.matrix.rows = (0..legs)
                .map(|leg| MatrixRow {
                    leg: format!("L{leg}"),
                    ..MatrixRow::default()
                })
                .collect();
        }
        screens.push((format!("{legs} legs"), screen));
    }
    for height in 0..=60 {
        for width in 0..=200 {
            let small = width < 80 || height < 24;
            // Below the smallest size the page does not matter.
            let stride = if small { screens.len() } else { 11 };
            let first = usize::from(width + height) % stride;
            for (name, screen) in screens.iter().skip(first).step_by(stride) {
                let look = Look {
                    ascii: width % 2 == 0,
                    ..Look::default()
                };
                let buf = drawn(screen, look, width, height);
                let mut head = buf.content.iter().take(usize::from(width));
                let said = head.any(|cell| cell.symbol() != " ");
                assert_eq!(
                    said,
                    width >= 10 && height > 0,
                    "{name} at {width}x{height}"
                );
            }
        }
    }
}

#[test]
fn a_part_of_the_buffer_is_all_that_is_drawn_on() {
    let mut buf = Buffer::empty(Rect::new(0, 0, 100, 30));
    buf.set_string(90, 5, "outside", ratatui::style::Style::new());
    draw(
        &samples::home(),
        Look::default(),
        Rect::new(3, 2, 82, 25),
        &mut buf,
    );
    let text = lines(&buf);
    assert!(text[5].ends_with("outside   "), "{}", text[5]);
    assert_eq!(text[0].trim(), "");
    assert!(text[2].starts_with("    Marram"), "{}", text[2]);
}

#[test]
fn too_small_says_the_size_and_that_space_stops() {
    let first = |width, height| {
        lines(&drawn(&samples::home(), Look::default(), width, height))[0]
            .trim_end()
            .to_owned()
    };
    assert_eq!(first(62, 18), "62x18, needs 80x24. Space stops. q quits.");
    assert_eq!(first(80, 23), "80x23, needs 80x24. Space stops. q quits.");
    assert_eq!(first(20, 5), "20x5 <80x24");
    assert_eq!(first(39, 50), "39x50 <80x24");
    assert_eq!(first(9, 5), "");
}

#[test]
fn ascii_is_one_for_one_in_width_and_knows_all_our_signs() {
    for (name, screen) in every_screen() {
        let plain = lines(&drawn(
            &screen,
            Look {
                strokes: Strokes::Plain,
                ..Look::default()
            },
            120,
            36,
        ));
        let ascii = lines(&drawn(
            &screen,
            Look {
                ascii: true,
                ..Look::default()
            },
            120,
            36,
        ));
        for (before, after) in plain.iter().zip(&ascii) {
            assert!(after.is_ascii(), "{name}: {after}");
            let letters = before.contains(['█', '▀', '▄'])
                || after.contains("S P")
                || before.trim().is_empty();
            for (sign, there) in before.chars().zip(after.chars()) {
                // Big letters have no ASCII of their width: spaced capitals stand in for them.
                if !letters {
                    assert_eq!(there, ascii::plain(sign), "{name}:\n{before}\n{after}");
                }
                assert!(
                    sign == '?' || there != '?' || letters,
                    "{name}: {sign} has no ASCII sign"
                );
            }
        }
    }
}

/// Where the cells with this modifier are, as text.
fn lit(buf: &Buffer, modifier: Modifier) -> Vec<String> {
    let mut runs = Vec::new();
    for y in 0..buf.area.height {
        let mut run = String::new();
        for x in 0..=buf.area.width {
            let on = x < buf.area.width && buf[(x, y)].modifier.contains(modifier);
            if on {
                run += buf[(x, y)].symbol();
            } else if !run.is_empty() {
                runs.push(std::mem::take(&mut run));
            }
        }
    }
    runs
}

#[test]
fn what_is_chosen_is_reversed_and_marked_in_text() {
    for theme in [Theme::Sixteen, Theme::OkabeIto, Theme::Mono] {
        let look = Look {
            theme,
            ..Look::default()
        };
        let reversed = |screen: &Screen| lit(&drawn(screen, look, 80, 24), Modifier::REVERSED);
        assert_eq!(reversed(&samples::home()), ["[e LF]", "►far end ?"]);
        assert_eq!(
            reversed(&samples::first_board()),
            ["► ttyUSB0  board 3F2A90C1"]
        );
        assert_eq!(reversed(&samples::jog()), ["femur +11.8°", "●"]);
        assert_eq!(
            reversed(&samples::typing()).last().map(String::as_str),
            Some("1600   ")
        );
        assert_eq!(reversed(&samples::foot()), ["[SIDE VIEW, arrows act here]"]);
        assert_eq!(
            reversed(&samples::alarm())[..2],
            ["LINK LOST 3 s", "FROZEN"]
        );
    }
}

#[test]
fn the_head_line_and_the_next_line_are_bold() {
    let buf = drawn(&samples::jog(), Look::default(), 80, 24);
    let bold = lit(&buf, Modifier::BOLD);
    let head = bold.concat();
    assert!(
        head.starts_with("Marram") && head.contains("Space=limp"),
        "{head}"
    );
    assert!(
        bold.iter().any(|run| run.starts_with("Bring the edge")),
        "{bold:?}"
    );
}

/// The colour of the first cell with this sign.
fn colour_of(buf: &Buffer, sign: &str) -> (Color, Modifier) {
    let cell = buf
        .content
        .iter()
        .find(|cell| cell.symbol() == sign)
        .expect("the sign is drawn");
    (cell.fg, cell.modifier)
}

#[test]
fn states_have_their_glyph_and_their_colour() {
    let mut screen = samples::home();
    if let Page::Home(home) = &mut screen.page {
        home.robot.legs[0].joints = [JointGlyph::Awake, JointGlyph::Waking, JointGlyph::Frozen];
        home.robot.legs[1].joints = [JointGlyph::NoPlug; 3];
    }
    let in_theme = |theme| {
        drawn(
            &screen,
            Look {
                theme,
                ..Look::default()
            },
            80,
            24,
        )
    };
    let expected = |glyph: JointGlyph, theme| {
        let style = theme_style(theme, glyph.role());
        (style.fg.unwrap_or(Color::Reset), style.add_modifier)
    };
    for theme in [Theme::Sixteen, Theme::OkabeIto, Theme::Mono] {
        let buf = in_theme(theme);
        for glyph in [
            JointGlyph::Limp,
            JointGlyph::Waking,
            JointGlyph::Awake,
            JointGlyph::Frozen,
            JointGlyph::Dead,
        ] {
            let sign = glyph.sign().to_string();
            assert_eq!(
                colour_of(&buf, &sign),
                expected(glyph, theme),
                "{sign} in {theme:?}"
            );
        }
    }
    let sixteen = in_theme(Theme::Sixteen);
    assert_eq!(colour_of(&sixteen, "◊"), (Color::Yellow, Modifier::empty()));
    assert_eq!(colour_of(&sixteen, "●"), (Color::Yellow, Modifier::BOLD));
    assert_eq!(colour_of(&sixteen, "■"), (Color::Cyan, Modifier::BOLD));
    assert_eq!(
        colour_of(&sixteen, "×"),
        (Color::Magenta, Modifier::empty())
    );
    let okabe_ito = in_theme(Theme::OkabeIto);
    assert_eq!(
        colour_of(&okabe_ito, "●"),
        (Color::Rgb(0xE6, 0x9F, 0x00), Modifier::BOLD)
    );
    assert_eq!(
        colour_of(&okabe_ito, "■"),
        (Color::Rgb(0x56, 0xB4, 0xE9), Modifier::BOLD)
    );
    let mono = in_theme(Theme::Mono);
    assert_eq!(
        colour_of(&mono, "■"),
        (Color::Reset, Modifier::BOLD | Modifier::UNDERLINED)
    );
}

fn theme_style(theme: Theme, role: Role) -> ratatui::style::Style {
    theme.style(role)
}

#[test]
fn mono_sets_no_colour_anywhere_and_nothing_sets_a_background() {
    for (name, screen) in every_screen() {
        let mono = drawn(
            &screen,
            Look {
                theme: Theme::Mono,
                ..Look::default()
            },
            120,
            36,
        );
        assert!(
            mono.content.iter().all(|cell| cell.fg == Color::Reset),
            "{name}"
        );
        for theme in [Theme::Sixteen, Theme::OkabeIto, Theme::Mono] {
            let buf = drawn(
                &screen,
                Look {
                    theme,
                    ..Look::default()
                },
                120,
                36,
            );
            assert!(
                buf.content.iter().all(|cell| cell.bg == Color::Reset),
                "{name}"
            );
        }
    }
}

#[test]
fn the_foot_line_is_cut_at_a_whole_entry_and_help_stays() {
    let mut screen = samples::home();
    screen.foot = (0..20)
        .map(|i| samples::entry(&format!("F{i}"), "does this"))
        .collect();
    screen.foot.push(samples::entry("?", "help"));
    let line = lines(&drawn(&screen, Look::default(), 80, 24))
        .pop()
        .expect("a last line");
    let entries: Vec<&str> = line.trim().split("  ").collect();
    assert_eq!(entries.last(), Some(&"? help"));
    assert!(
        entries[..entries.len() - 1]
            .iter()
            .all(|entry| entry.ends_with("does this")),
        "{line}"
    );
    assert!(entries.len() >= 6, "{line}");
}

#[test]
fn a_gauges_reading_is_never_cut_however_long_the_subject_is() {
    let mut screen = samples_guided::marks();
    screen.title.subject = "hind left femur, pin 23, difference, placing 12".into();
    screen.title.simulated = Some("gauge −123.4°".into());
    let rows = lines(&drawn(&screen, Look::default(), 80, 24));
    assert!(
        rows[1].contains(" simulated: gauge −123.4° ─"),
        "{}",
        rows[1]
    );
    assert!(
        rows[1].contains("── hind left femur, pin 23, difference ─"),
        "{}",
        rows[1]
    );
}

#[test]
fn an_overlay_covers_neither_the_head_nor_the_last_three_lines() {
    let bare = lines(&drawn(&samples::jog(), Look::default(), 80, 24));
    for overlay in [samples::dialog(), samples::help()].map(|screen| screen.overlay) {
        let covered = Screen {
            overlay,
            ..samples::jog()
        };
        let covered = lines(&drawn(&covered, Look::default(), 80, 24));
        assert_eq!(covered[..2], bare[..2]);
        assert_eq!(covered[20..], bare[20..]);
        assert_ne!(covered[2..20], bare[2..20]);
    }
}

#[test]
fn what_is_off_is_dim_and_says_why() {
    let mut screen = samples::help();
    if let Some(Overlay::Help(help)) = &mut screen.overlay {
        help.entries[5].off = Some("the pin is limp".into());
    }
    let dim = lit(&drawn(&screen, Look::default(), 80, 24), Modifier::DIM);
    assert_eq!(
        dim.concat().replace("← → h l", ""),
        "smaller, larger pulse by one step  (the pin is limp)"
    );
}

#[test]
fn colour_is_forbidden_by_the_surroundings() {
    let choose = |no_color, term, terminal, never| {
        Theme::choose(Theme::OkabeIto, no_color, term, terminal, never)
    };
    assert_eq!(choose(None, Some("xterm"), true, false), Theme::OkabeIto);
    assert_eq!(
        choose(Some(""), Some("xterm"), true, false),
        Theme::OkabeIto
    );
    assert_eq!(choose(Some("1"), Some("xterm"), true, false), Theme::Mono);
    assert_eq!(choose(None, Some("dumb"), true, false), Theme::Mono);
    assert_eq!(choose(None, None, false, false), Theme::Mono);
    assert_eq!(choose(None, Some("xterm"), true, true), Theme::Mono);
}

#[test]
fn help_hides_nothing_of_a_long_entry_and_says_when_there_is_more() {
    let long = "take the last recorded thing back and say which one it was, mark or end or zero";
    let reason = "nothing was recorded since the file was opened";
    let mut screen = samples::help();
    if let Some(Overlay::Help(help)) = &mut screen.overlay {
        help.entries[0].text = long.into();
        help.entries[0].off = Some(reason.into());
    }
    for (width, height) in [(80, 24), (120, 36)] {
        // Without the foot line, which names the keys for more.
        let body = usize::from(height) - 1;
        let text = lines(&drawn(&screen, Look::default(), width, height))[..body].to_vec();
        let said: Vec<String> = text[3..7]
            .iter()
            .map(|line| {
                let part = if width == 80 { 18..76 } else { 18..65 };
                line.chars()
                    .skip(part.start)
                    .take(part.len())
                    .collect::<String>()
            })
            .collect();
        let said = said.join(" ");
        for word in long.split(' ').chain(reason.split(' ')) {
            assert!(
                said.contains(word),
                "{word} at {width}:\n{}",
                text.join("\n")
            );
        }
        assert!(
            text.iter().any(|line| line.contains("↓ more")),
            "{}",
            text.join("\n")
        );
        if let Some(Overlay::Help(help)) = &mut screen.overlay {
            help.scroll = 99;
        }
        let text = lines(&drawn(&screen, Look::default(), width, height))[..body].to_vec();
        assert!(text.iter().any(|line| line.contains("q            quit")));
        assert!(
            !text.iter().any(|line| line.contains("↓ more")),
            "{}",
            text.join("\n")
        );
        if let Some(Overlay::Help(help)) = &mut screen.overlay {
            help.scroll = 0;
        }
    }
}

#[test]
fn a_long_list_keeps_its_lit_line_in_sight_and_covers_nothing() {
    let page = |count: usize, lit: usize| {
        let mut screen = samples_guided::guided();
        if let Page::Guided(guided) = &mut screen.page {
            guided.options = Some(((0..count).map(|n| format!("way {n}")).collect(), lit));
            guided.lines = vec!["needed -50".into()];
            guided.field = None;
        }
        lines(&drawn(&screen, Look::default(), 80, 24)).join("\n")
    };
    let (first, last) = (page(20, 0), page(20, 19));
    for (page, lit, more) in [(&first, "► way 0 ", '↓'), (&last, "► way 19 ", '↑')] {
        assert!(page.contains(lit) && page.contains(more), "{page}");
        assert!(page.contains("needed -50"), "{page}");
    }
    assert!(!first.contains("way 19") && !last.contains("way 0 "));
    let scale = "needed −50° … +60°";
    assert!(
        page(2, 1).contains(scale),
        "a short one leaves the scale its room"
    );
    assert!(!page(12, 0).contains(scale), "{}", page(12, 0));
}

#[test]
fn what_is_said_takes_the_room_of_the_big_number_and_then_of_the_scale() {
    let page = |count: usize| {
        let mut screen = samples_guided::guided();
        if let Page::Guided(guided) = &mut screen.page {
            guided.options = None;
            guided.field = None;
            guided.lines = (0..count).map(|n| format!("line {n}.")).collect();
        }
        lines(&drawn(&screen, Look::default(), 80, 24)).join("\n")
    };
    let (big, scale) = ("µs, commanded", "needed −50° … +60°");
    let has = |count: usize, what: &str| page(count).contains(what);
    for (count, has_big, has_scale) in [
        (3, true, true),
        (9, false, true),
        (13, true, false),
        (17, false, false),
    ] {
        assert_eq!(
            (has(count, big), has(count, scale)),
            (has_big, has_scale),
            "{}",
            page(count)
        );
        assert!(
            has(count, &format!("line {}.", count - 1)),
            "{}",
            page(count)
        );
    }
    // More than a page: how much of it is not there.
    let page = page(20);
    assert!(
        page.contains("line 15.") && page.contains("… 4 lines more"),
        "{page}"
    );
}
