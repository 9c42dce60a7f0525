//! The kinematics against numbers that hornset did not make; each file's source stands in the README beside it.

use std::path::Path;

use hornset::calibration::Mount;
use hornset::kinematics::leg::AXIS_SLACK_MM;
use hornset::kinematics::{
    Knee, LegGeometry, SupportPolygon, Unreachable, Vec3, WaveGait, leg_to_body, segment_distance,
};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use serde_json::Value;

const LEG_A: LegGeometry = LegGeometry {
    coxa: 31.0,
    femur: 67.0,
    tibia: 104.0,
    height: 0.0,
    bend: 0.0,
};

/// Leg B of geometry.json, whose femur axis is 12 mm below the mount.
const LEG_B: LegGeometry = LegGeometry {
    coxa: 28.0,
    femur: 58.0,
    tibia: 96.0,
    height: -12.0,
    bend: 0.0,
};

fn data(name: &str) -> String {
    let path = Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("tests/data")
        .join(name);
    std::fs::read_to_string(path).expect("the file is there")
}

fn json(name: &str) -> Value {
    serde_json::from_str(&data(name)).expect("JSON")
}

/// Rows of a CSV file, without the heading.
fn rows(name: &str) -> Vec<Vec<String>> {
    data(name)
        .lines()
        .skip(1)
        .map(|line| line.split(',').map(str::to_owned).collect())
        .collect()
}

fn number(text: &str) -> f64 {
    text.parse().expect("a number")
}

fn far(a: Vec3, b: Vec3) -> f64 {
    (a[0] - b[0]).hypot(a[1] - b[1]).hypot(a[2] - b[2])
}

#[test]
fn the_legs_are_those_of_geometry_json() {
    let file = json("kinematics/geometry.json");
    for (name, leg) in [("A", LEG_A), ("B", LEG_B)] {
        let it = &file["legs"][name];
        let mm = |key: &str| number(it[key].as_str().expect("text")) * 1000.0;
        let theirs = [mm("L1"), mm("L2"), mm("L3"), mm("d1")];
        assert_eq!(
            theirs,
            [leg.coxa, leg.femur, leg.tibia, leg.height],
            "{name}"
        );
    }
}

/// Eleven general robotics libraries agree on these numbers (see the README beside the file).
#[test]
fn foot_jacobian_and_singular_values_agree_with_eleven_libraries() {
    let mut count = 0;
    let mut worst = 0.0f64;
    for row in rows("kinematics/leg_fk_jacobian.csv") {
        let leg = match row[0].as_str() {
            "A" => LEG_A,
            "B" => LEG_B,
            other => panic!("leg {other}"),
        };
        let n: Vec<f64> = row[2..].iter().map(|it| number(it)).collect();
        let angles = [n[0], n[1], n[2]].map(f64::to_radians);
        // m become mm. Relative to the published value itself; a published 0, to the leg's reach.
        let reach = leg.coxa + leg.femur + leg.tibia;
        let mut check = |ours: f64, theirs: f64, none: f64| {
            let size = if theirs == 0.0 { none } else { theirs.abs() };
            let apart = (ours - theirs).abs() / size;
            worst = worst.max(apart);
        };
        let foot = leg.fk(angles);
        let jacobian = leg.jacobian(angles);
        for i in 0..3 {
            check(foot[i], n[3 + i] * 1e3, reach);
            for k in 0..3 {
                check(jacobian[i][k], n[6 + 3 * i + k] * 1e3, reach);
            }
        }
        let [[a, b, c], [d, e, f], [g, h, i]] = jacobian;
        let det = a * (e * i - f * h) - b * (d * i - f * g) + c * (d * h - e * g);
        check(det, n[15] * 1e9, reach * reach * reach);
        let it = leg.dexterity(angles);
        check(it.singular_values[0], n[16] * 1e3, reach);
        check(it.least(), n[17] * 1e3, reach);
        count += 1;
    }
    assert_eq!(count, 24, "every row was read");
    assert!(worst <= 1e-12, "worst relative difference {worst:e}");
}

/// Closed form, roboticstoolbox and ikpy; both knee branches and every class of point without a solution.
#[test]
fn inverse_kinematics_agree_on_both_branches_and_on_the_reasons() {
    let mut classes = std::collections::BTreeMap::new();
    for row in rows("kinematics/leg_ik.csv") {
        let point = [1, 2, 3].map(|i| number(&row[i]) * 1e3);
        let class = row[4].as_str();
        *classes.entry(class.to_owned()).or_insert(0) += 1;
        let up = LEG_A.ik(point, Knee::Up);
        let down = LEG_A.ik(point, Knee::Down);
        match class {
            "ok" | "boundary" => {
                let their = |i: usize| number(&row[i]).to_radians();
                let want = [
                    (up, [their(6), their(7), their(8)]),
                    (down, [their(6), their(9), their(10)]),
                ];
                for (ours, theirs) in want {
                    let ours = ours.expect("reachable");
                    for k in 0..3 {
                        let slack = if class == "ok" { 1e-12 } else { 1e-7 };
                        assert!((ours[k] - theirs[k]).abs() <= slack, "{row:?} {ours:?}");
                    }
                    assert!(far(LEG_A.fk(ours), point) <= 1e-9);
                }
            }
            "too_near" => assert!(matches!(up, Err(Unreachable::TooNear { by_mm }) if by_mm > 0.0)),
            "too_far" => assert!(matches!(up, Err(Unreachable::TooFar { by_mm }) if by_mm > 0.0)),
            "singular_on_axis" => {
                let from_axis_mm = point[0].hypot(point[1]);
                assert_eq!(up, Err(Unreachable::OnAxis { from_axis_mm }));
            }
            other => panic!("class {other}"),
        }
        assert_eq!(up.is_ok(), down.is_ok());
    }
    assert_eq!(classes.len(), 5, "{classes:?}");
    // The amounts: 210 mm straight out is 8 mm beyond 202; on the femur axis the foot is 104 − 67 = 37 mm too near.
    assert_eq!(
        LEG_A.ik([210.0, 0.0, 0.0], Knee::Up),
        Err(Unreachable::TooFar { by_mm: 8.0 })
    );
    assert_eq!(
        LEG_A.ik([31.0, 0.0, 0.0], Knee::Up),
        Err(Unreachable::TooNear { by_mm: 37.0 })
    );
}

/// pinocchio and yourdfpy.
#[test]
fn six_feet_stand_where_two_libraries_put_them() {
    let rows = rows("kinematics/body_fk.csv");
    assert_eq!(rows.len(), 6);
    for row in rows {
        let n: Vec<f64> = row[2..].iter().map(|it| number(it)).collect();
        let mount = Mount {
            x_mm: n[0] * 1e3,
            y_mm: n[1] * 1e3,
            z_mm: 0.0,
            yaw_deg: n[2],
        };
        let angles = [n[3], n[4], n[5]].map(f64::to_radians);
        let foot = leg_to_body(&mount, LEG_A.fk(angles));
        let theirs = [n[6], n[7], n[8]].map(|it| it * 1e3);
        assert!(far(foot, theirs) <= 1e-12 * 260.0, "{row:?} {foot:?}");
    }
}

/// A leg without a coxa, in its own plane, is the planar arm with two links of the textbooks.
fn planar(femur: f64, tibia: f64) -> LegGeometry {
    LegGeometry {
        coxa: 0.0,
        femur,
        tibia,
        height: 0.0,
        bend: 0.0,
    }
}

/// Corke, Robotics, Vision and Control (Python), 7.1.1.1.
#[test]
fn corkes_planar_arm() {
    let it = &json("kinematics/textbook_examples.json")["corke_rvc3_7_1_1_1"];
    let foot = planar(1.0, 1.0).fk([0.0, 30f64.to_radians(), 40f64.to_radians()]);
    let (x, y) = (it["x"].as_f64().expect("x"), it["y"].as_f64().expect("y"));
    assert!((foot[0] - x).abs() <= 1e-12 && (foot[2] - y).abs() <= 1e-12);
}

/// Lynch & Park, Modern Robotics, Example 6.1: both ends of the iteration table.
#[test]
fn lynch_and_parks_planar_arm() {
    let it = &json("kinematics/textbook_examples.json")["lynch_park_modern_robotics_ex_6_1"];
    let arm = planar(1.0, 1.0);
    for row in it["rows"].as_array().expect("rows") {
        let theta = [0, 1].map(|i| row["theta_deg"][i].as_f64().expect("deg").to_radians());
        let foot = arm.fk([0.0, theta[0], theta[1]]);
        // Printed with six decimals.
        for (ours, i) in [(foot[0], 0), (foot[2], 1)] {
            let theirs = row["xy"][i].as_f64().expect("printed");
            assert!((ours - theirs).abs() <= 1.1e-6, "{row}");
        }
    }
    // The target is (30°, 90°), knee "down" in our words; the book iterates, we need not.
    let target = arm.fk([0.0, 30f64.to_radians(), 90f64.to_radians()]);
    let found = arm.ik(target, Knee::Down).expect("reachable");
    assert!((found[1].to_degrees() - 30.0).abs() < 1e-12);
    assert!((found[2].to_degrees() - 90.0).abs() < 1e-12);
}

/// The law of cosines on 3-4-5, 5-8-7 and 3-5-7; elementary.
#[test]
fn knees_of_the_three_whole_numbered_triangles() {
    for (femur, tibia, reach, knee_deg) in [
        (3.0, 4.0, 5.0, -90.0),
        (5.0, 8.0, 7.0, -120.0),
        (3.0, 5.0, 7.0, -60.0),
    ] {
        let up = planar(femur, tibia)
            .ik([reach, 0.0, 0.0], Knee::Up)
            .expect("reachable");
        assert!((up[2].to_degrees() - knee_deg).abs() < 1e-12, "{up:?}");
    }
}

fn some_leg(rng: &mut ChaCha8Rng) -> LegGeometry {
    LegGeometry {
        coxa: rng.random_range(0.0..60.0),
        femur: rng.random_range(20.0..120.0),
        tibia: rng.random_range(20.0..160.0),
        height: rng.random_range(-20.0..20.0),
        bend: rng.random_range(-0.5..0.5),
    }
}

#[test]
fn ik_then_fk_returns_100_000_random_reachable_points() {
    let mut rng = ChaCha8Rng::seed_from_u64(20_260_314);
    let mut worst = 0.0f64;
    let mut done = 0;
    while done < 100_000 {
        let leg = if done % 2 == 0 {
            LEG_A
        } else {
            some_leg(&mut rng)
        };
        // Any point a leg that points outward reaches.
        let half = std::f64::consts::PI;
        let point = leg.fk([0; 3].map(|_| rng.random_range(-half..half)));
        if point[0].hypot(point[1]) < 1e-3 {
            continue;
        }
        let mut found = 0;
        for knee in Knee::BOTH {
            // The leg may have reached this point backwards, over the body; then it may be out of reach forwards.
            if let Ok(angles) = leg.ik(point, knee) {
                worst = worst.max(far(leg.fk(angles), point));
                found += 1;
            }
        }
        assert!(found != 1, "both branches or none");
        done += usize::from(found == 2);
    }
    assert!(worst <= 1e-9, "worst {worst:e} mm");
}

#[test]
fn at_and_around_every_boundary_there_is_no_nan_and_the_right_reason() {
    let tiny = [0.0, 1e-300, 1e-15, 1e-12, 1e-9, 1e-6, 1e-3, 1.0];
    let mut rng = ChaCha8Rng::seed_from_u64(7);
    let equal = LegGeometry {
        femur: 80.0,
        tibia: 80.0,
        ..LEG_A
    };
    let mut legs = vec![LEG_A, LEG_B, equal];
    legs.extend((0..50).map(|_| some_leg(&mut rng)));
    let mut looked = 0;
    for leg in legs {
        let longest = leg.femur + leg.tibia;
        let shortest = (leg.femur - leg.tibia).abs();
        for turn in 0..48 {
            let (s, c) = (f64::from(turn) * 7.5f64).to_radians().sin_cos();
            for edge in [longest, shortest] {
                for sign in [-1.0, 1.0] {
                    for step in tiny {
                        let distance = edge + sign * step;
                        let out = leg.coxa + distance * c;
                        let z = leg.height + distance * s;
                        for point in [[out, 0.0, z], [0.0, out, z], [out * 0.6, out * 0.8, z]] {
                            for knee in Knee::BOTH {
                                looked += 1;
                                match leg.ik(point, knee) {
                                    Ok(angles) => {
                                        assert!(angles.iter().all(|it| it.is_finite()));
                                        assert!(
                                            far(leg.fk(angles), point) <= 2e-9,
                                            "{leg:?} {point:?}"
                                        );
                                        let it = leg.dexterity(angles);
                                        assert!(it.singular_values.iter().all(|it| it.is_finite()));
                                        if let Some(speeds) =
                                            leg.joint_speeds(angles, [1.0, 2.0, 3.0])
                                        {
                                            assert!(speeds.iter().all(|it| it.is_finite()));
                                        }
                                    }
                                    Err(
                                        Unreachable::TooFar { by_mm }
                                        | Unreachable::TooNear { by_mm },
                                    ) => {
                                        assert!(by_mm > 0.0 && by_mm.is_finite());
                                    }
                                    Err(Unreachable::OnAxis { from_axis_mm }) => {
                                        assert!(from_axis_mm < AXIS_SLACK_MM);
                                        // 0.6 and 0.8 of `out` are rounded.
                                        assert!((from_axis_mm - out.abs()).abs() < 1e-21);
                                    }
                                    Err(Unreachable::NotFinite) => panic!("{point:?} is finite"),
                                }
                            }
                        }
                    }
                }
            }
        }
        for near in tiny {
            for z in [-200.0, -100.0, -1.0, 0.0, 1.0, 100.0] {
                if let Ok(angles) = leg.ik([near, -near, z], Knee::Up) {
                    assert!(far(leg.fk(angles), [near, -near, z]) <= 1e-9);
                }
            }
        }
        for bad in [f64::NAN, f64::INFINITY, f64::NEG_INFINITY] {
            for place in 0..3 {
                let mut point = [100.0, 0.0, -50.0];
                point[place] = bad;
                assert_eq!(leg.ik(point, Knee::Up), Err(Unreachable::NotFinite));
            }
        }
        for huge in [1e200, f64::MAX] {
            match leg.ik([huge, huge, -huge], Knee::Up) {
                Err(Unreachable::TooFar { by_mm }) => assert!(by_mm > 0.0),
                other => panic!("{other:?}"),
            }
        }
        // Beyond the slack, the reason is never missing.
        let beyond = leg.ik([leg.coxa + longest + 1e-6, 0.0, leg.height], Knee::Up);
        assert!(matches!(beyond, Err(Unreachable::TooFar { .. })));
    }
    assert_eq!(looked, 53 * 48 * 2 * 2 * 8 * 3 * 2);
}

#[test]
fn dexterity_names_every_singularity() {
    let straight = LEG_A.dexterity([0.3, 0.4, 0.0]);
    assert!(straight.least() < 1e-12 && straight.from_straight == 0.0);
    let folded = LEG_A.dexterity([0.3, 0.4, std::f64::consts::PI]);
    assert!(folded.least() < 1e-12 && folded.from_folded == 0.0);
    // The foot under the coxa axis.
    let on_axis = LEG_A
        .ik([1e-5, 0.0, -60.0], Knee::Up)
        .map(|angles| LEG_A.dexterity(angles))
        .expect("reachable");
    assert!(on_axis.least() < 1.1e-5 && on_axis.from_axis < 1.1e-5);
    let angles = [0.0, 0.5, -1.4];
    assert!(LEG_A.dexterity(angles).least() > 30.0);
    assert_eq!(LEG_A.joint_speeds([0.3, 0.4, 0.0], [1.0, 0.0, 0.0]), None);
}

#[test]
fn the_jacobian_is_the_slope_of_the_foot() {
    let mut rng = ChaCha8Rng::seed_from_u64(3);
    for _ in 0..1000 {
        let leg = some_leg(&mut rng);
        let angles = [0; 3].map(|_| rng.random_range(-3.0..3.0));
        let jacobian = leg.jacobian(angles);
        for k in 0..3 {
            let h = 1e-6;
            let (mut a, mut b) = (angles, angles);
            a[k] -= h;
            b[k] += h;
            let (a, b) = (leg.fk(a), leg.fk(b));
            for i in 0..3 {
                assert!(((b[i] - a[i]) / (2.0 * h) - jacobian[i][k]).abs() < 1e-5);
            }
        }
        let speeds = [0.3, -0.2, 0.5];
        let velocity =
            jacobian.map(|row| row[0] * speeds[0] + row[1] * speeds[1] + row[2] * speeds[2]);
        if leg.dexterity(angles).least() > 1.0 {
            let found = leg.joint_speeds(angles, velocity).expect("not singular");
            for k in 0..3 {
                assert!((found[k] - speeds[k]).abs() < 1e-9);
            }
        }
    }
}

/// McGhee & Frank 1968 (definition, from memory); numbers by shapely/GEOS and scipy/Qhull.
#[test]
fn support_polygons_and_margins_agree_with_two_geometry_libraries() {
    let file = json("stability/static_margin_cases.json");
    let cases = file["cases"].as_array().expect("cases");
    assert_eq!(cases.len(), 16);
    for case in cases {
        let name = case["name"].as_str().expect("a name");
        let point = |it: &Value| [0, 1].map(|i| it[i].as_f64().expect("a number"));
        let points = |it: &Value| {
            it.as_array()
                .expect("points")
                .iter()
                .map(point)
                .collect::<Vec<_>>()
        };
        let polygon = SupportPolygon::of(&points(&case["feet"]));
        let centre = point(&case["com"]);
        let near = |ours: Option<f64>, theirs: &Value, what: &str| {
            let theirs = theirs.as_f64().expect("a number");
            let ours = ours.expect("a number");
            assert!(
                (ours - theirs).abs() <= 1e-12 * theirs.abs().max(1e-3),
                "{name} {what}: {ours} {theirs}"
            );
        };
        assert_eq!(
            polygon.corners().len(),
            points(&case["hull_ccw"]).len(),
            "{name}"
        );
        near(Some(polygon.area()), &case["area"], "area");
        near(
            polygon.edge_line_margin(centre),
            &case["margin_edge_lines_scipy"],
            "edge lines",
        );
        near(
            polygon.distance_margin(centre),
            &case["signed_distance_to_polygon_shapely"],
            "distance",
        );
        let along = polygon.longitudinal_margin(centre, [1.0, 0.0]);
        match &case["longitudinal_along_x"] {
            Value::Null => assert_eq!(along, None, "{name}"),
            it => {
                near(along.map(|it| it.front), &it["front"], "front");
                near(along.map(|it| it.rear), &it["rear"], "rear");
                near(along.map(|it| it.least()), &it["longitudinal"], "least");
            }
        }
    }
}

/// Facts of the trade, common practice.
#[test]
fn a_rectangle_with_one_foot_lifted_has_no_margin_and_six_feet_with_one_lifted_stand() {
    let rectangle = [
        [100.0, 60.0],
        [100.0, -60.0],
        [-100.0, 60.0],
        [-100.0, -60.0],
    ];
    for lifted in 0..4 {
        let feet: Vec<_> = (0..4)
            .filter(|&i| i != lifted)
            .map(|i| rectangle[i])
            .collect();
        let polygon = SupportPolygon::of(&feet);
        let margin = polygon.edge_line_margin([0.0, 0.0]).expect("feet");
        assert!(margin.abs() < 1e-12, "{margin}");
        assert!(polygon.distance_margin([0.0, 0.0]).expect("feet").abs() < 1e-12);
    }
    let six: Vec<[f64; 2]> = rows("kinematics/body_fk.csv")
        .iter()
        .map(|row| [number(&row[8]), number(&row[9])])
        .collect();
    for lifted in 0..6 {
        let feet: Vec<_> = (0..6).filter(|&i| i != lifted).map(|i| six[i]).collect();
        assert!(
            SupportPolygon::of(&feet)
                .edge_line_margin([0.0, 0.0])
                .expect("feet")
                > 0.05
        );
    }
}

#[test]
fn too_few_feet_never_stand() {
    let nothing = SupportPolygon::of(&[]);
    assert_eq!(nothing.edge_line_margin([0.0, 0.0]), None);
    assert_eq!(nothing.distance_margin([0.0, 0.0]), None);
    let one = SupportPolygon::of(&[[3.0, 4.0], [3.0, 4.0]]);
    assert_eq!(one.edge_line_margin([0.0, 0.0]), Some(-5.0));
    let line = SupportPolygon::of(&[[0.0, 0.0], [5.0, 0.0], [10.0, 0.0], [f64::NAN, 1.0]]);
    assert_eq!(line.corners().len(), 2);
    assert_eq!(line.distance_margin([5.0, 2.0]), Some(-2.0));
    assert_eq!(line.edge_line_margin([5.0, 2.0]), Some(-2.0));
    assert_eq!(line.area(), 0.0);
}

/// Song & Waldron's formula (from memory), held against a simulation with shapely of 75 cases.
#[test]
fn wave_gaits_have_the_margins_of_formula_and_simulation() {
    let file = json("stability/wave_gait.json");
    for row in file["hexapod_table"].as_array().expect("rows") {
        let duty = match row["beta"].as_str().expect("a fraction").split_once('/') {
            Some((a, b)) => number(a) / number(b),
            None => panic!("{row}"),
        };
        let gait = WaveGait::new(3, duty).expect("a gait");
        let theirs = row["S_over_P"].as_f64().expect("a number");
        let ours = gait
            .margin(row["R_over_P"].as_f64().expect("a number"))
            .expect("in range");
        assert!((ours - theirs).abs() < 1e-12, "{row}");
    }
    let (mut within, mut beyond, mut simulated_too) = (0, 0, 0);
    for row in file["simulation"].as_array().expect("rows") {
        let n: Vec<f64> = (0..5).map(|i| row[i].as_f64().expect("a number")).collect();
        let (legs, duty, stroke, simulated) = (n[0] as usize, n[1], n[2], n[3]);
        let gait = WaveGait::new(legs / 2, duty).expect("a gait");
        // Pitch 1; the longitudinal margin does not depend on the width.
        let ours = gait
            .least_margin(1.0, 1.5, stroke, 3600)
            .expect("it always stands");
        // Ours looks at 3600 moments: it misses the least by at most one moment's way.
        let moment = stroke / duty / 3600.0;
        if stroke <= 1.0 {
            // The file's stated range: their simulation looked at a finite number of moments, which is where its 1e-3 comes from.
            let formula = gait.margin(stroke).expect("in range");
            assert!((ours - simulated).abs() < 1e-3, "{row} {ours}");
            assert!((ours - formula).abs() < moment, "{row} {ours} {formula}");
            within += 1;
        } else {
            // Beyond it the formula is not offered; the file says what holds there instead, and that it is its own derivation.
            assert_eq!(gait.margin(stroke), None, "{row}");
            let pairs = (legs / 2) as f64;
            let derived = match stroke * (3.0 - 2.0 / duty) <= 1.0 {
                true => pairs / 2.0 - 1.0 + (1.0 - 3.0 / (4.0 * duty)) * stroke,
                false => (pairs - 1.0) / 2.0 - (0.5 - 1.0 / (4.0 * duty)) * stroke,
            };
            assert!((ours - derived).abs() < moment, "{row} {ours} {derived}");
            beyond += 1;
            simulated_too += u32::from((ours - simulated).abs() < 1e-3);
        }
    }
    // Their simulation is 1.08e-3 from their own derivation in two rows, six and eight legs at duty 1/2.
    assert_eq!((within, beyond, simulated_too), (60, 15, 13));
    assert_eq!(WaveGait::new(2, 0.5), None);
    assert_eq!(WaveGait::new(5, 0.75), None);
    assert_eq!(WaveGait::new(3, 1.0), None);
    assert_eq!(WaveGait::new(3, f64::NAN), None);
}

#[test]
fn a_tripod_lifts_three_feet_at_once_and_a_slow_wave_one() {
    for moment in 0..100 {
        let cycles = (f64::from(moment) + 0.5) / 100.0;
        assert_eq!(
            WaveGait::TRIPOD.feet_down(60.0, 100.0, 30.0, cycles).len(),
            3
        );
        let slow = WaveGait::new(3, 11.0 / 12.0).expect("a gait");
        assert!(slow.feet_down(60.0, 100.0, 30.0, cycles).len() >= 5);
    }
}

#[test]
fn no_two_points_of_random_segments_are_nearer_than_their_distance() {
    let mut rng = ChaCha8Rng::seed_from_u64(5);
    for _ in 0..300 {
        let mut point = || [0; 3].map(|_| rng.random_range(-100.0..100.0));
        let (a, b) = ([point(), point()], [point(), point()]);
        let found = segment_distance(a, b);
        let mut least = f64::INFINITY;
        for i in 0..=100 {
            for k in 0..=100 {
                let at = |[p, q]: [Vec3; 2], part: i32| {
                    let part = f64::from(part) / 100.0;
                    [0, 1, 2].map(|n| p[n] + (q[n] - p[n]) * part)
                };
                least = least.min(far(at(a, i), at(b, k)));
            }
        }
        assert!(
            found <= least + 1e-9 && least - found < 4.0,
            "{found} {least}"
        );
    }
}
