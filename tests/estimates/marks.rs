//! Marks: the bars of the marks procedure, honest intervals, and a control that must not be honest.

use hornset::calibration::logbook::{MarkKind, Side};
use hornset::estimate::marks::{Ended, Estimate, Fit, Mark, Priors, Settings, Unknown, fit};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

use crate::normal;

const FITS: usize = 4000;
/// Expected µs/degree.
const EXPECTED: f64 = 10.6;

/// One joint as it really is.
#[derive(Debug, Clone, Copy)]
struct Joint {
    mid_pulse_us: f64,
    /// About which pulse its response bends.
    bend_about_us: f64,
    /// Angle there.
    at_bend_deg: f64,
    /// Actual over expected degrees.
    stretch: f64,
    /// At 60 expected degrees.
    bend_deg: f64,
    half_play_deg: f64,
    way: f64,
}

impl Joint {
    /// From the population that our own simulations of hobby servos use: zero sd 8°, scale sd 5 %,
    /// curvature up to ±2° at ±60° about 1500 µs, half-play 0.3 to 0.7°.
    fn of_population(rng: &mut ChaCha8Rng) -> Joint {
        Joint {
            mid_pulse_us: rng.random_range(1400.0..1600.0),
            bend_about_us: 1500.0,
            at_bend_deg: normal(rng, 0.0, 8.0),
            stretch: 1.0 / normal(rng, 1.0, 0.05),
            bend_deg: rng.random_range(-2.0..2.0),
            half_play_deg: rng.random_range(0.3..0.7),
            way: if rng.random() { 1.0 } else { -1.0 },
        }
    }

    /// As the usual priors expect it.
    fn of_priors(rng: &mut ChaCha8Rng) -> Joint {
        Joint {
            mid_pulse_us: 1500.0,
            bend_about_us: 1500.0,
            at_bend_deg: normal(rng, 0.0, 10.0),
            stretch: normal(rng, 1.0, 0.06),
            bend_deg: normal(rng, 0.0, 1.0),
            half_play_deg: normal(rng, 0.5, 0.25),
            way: 1.0,
        }
    }

    fn angle(&self, pulse_us: f64) -> f64 {
        let u = self.way * (pulse_us - self.bend_about_us) / EXPECTED;
        self.at_bend_deg + self.stretch * u + self.bend_deg * (u / 60.0).powi(2)
    }

    fn middle(&self) -> f64 {
        self.angle(self.mid_pulse_us)
    }

    /// The best straight line over ±45° about mid-travel, fitted to the true response point by point.
    fn us_per_deg(&self) -> f64 {
        let (mut xy, mut xx) = (0.0, 0.0);
        for i in -45..=45 {
            let x = f64::from(i) * EXPECTED;
            xy += x * self.angle(self.mid_pulse_us + x);
            xx += x * x;
        }
        xx / xy
    }

    /// Reads it at these angles about mid-travel, each from both sides; all with this offset.
    fn read(
        &self,
        rng: &mut ChaCha8Rng,
        angles: &[f64],
        noise: f64,
        offset: f64,
        placing: u64,
    ) -> Vec<Mark> {
        let mut marks = Vec::new();
        for deg in angles {
            for from in [Side::Below, Side::Above] {
                let pulse_us = self.mid_pulse_us + self.way * deg * EXPECTED;
                // The take-up move ends here: the joint lags behind by half its play.
                let lag = self.half_play_deg * from.sign() * self.way;
                marks.push(Mark {
                    pulse_us,
                    from: Some(from),
                    angle_deg: normal(rng, self.angle(pulse_us) - lag + offset, noise),
                    placing: Some(placing),
                    kind: MarkKind::Absolute,
                });
            }
        }
        marks
    }

    fn settings(&self) -> Settings {
        Settings::new(self.mid_pulse_us, 0.0, self.way * EXPECTED)
    }
}

const THREE: [f64; 3] = [-45.0, 0.0, 45.0];
const SIX: [f64; 6] = [-45.0, -27.0, -9.0, 9.0, 27.0, 45.0];
const THREE_TWICE: [f64; 6] = [-45.0, 0.0, 45.0, -45.0, 0.0, 45.0];

/// Shares of joints whose mid-travel angle and µs/degree are within the bars.
fn within(seed: u64, angles: &[f64], middle_bar: f64, scale_bar: f64) -> (f64, f64) {
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    let (mut middle, mut scale) = (0, 0);
    for _ in 0..FITS {
        let joint = Joint::of_population(&mut rng);
        let offset = normal(&mut rng, 0.0, 1.0);
        let marks = joint.read(&mut rng, angles, 1.0, offset, 1);
        let fit = fit(&marks, &joint.settings()).expect("a fit");
        // Beyond that placing's error: what the placing shifts, no reading in it can tell.
        let error = fit.middle_deg.value - joint.middle() - offset;
        middle += usize::from(error.abs() <= middle_bar);
        let ratio = fit.us_per_deg.value / joint.us_per_deg();
        scale += usize::from((ratio - 1.0).abs() <= scale_bar);
    }
    (middle as f64 / FITS as f64, scale as f64 / FITS as f64)
}

#[test]
fn six_readings_reach_their_bars() {
    let (middle, scale) = within(6, &THREE, 1.25, 0.025);
    println!("6 readings: middle {middle:.4} within 1.25°, µs/degree {scale:.4} within 2.5 %");
    assert!(middle >= 0.95 && scale >= 0.95, "{middle} {scale}");
}

#[test]
fn twelve_readings_reach_their_bars() {
    for angles in [SIX, THREE_TWICE] {
        let (middle, scale) = within(12, &angles, 1.0, 0.02);
        println!(
            "12 readings {angles:?}: middle {middle:.4} within 1.0°, µs/degree {scale:.4} within 2 %"
        );
        assert!(middle >= 0.95 && scale >= 0.95, "{middle} {scale}");
    }
}

/// How often the 95 % intervals hold the truth: middle, µs/degree, zero, bend, half play.
fn coverage(
    seed: u64,
    draw: impl Fn(&mut ChaCha8Rng) -> Joint,
    placings: &[&[f64]],
    placing_sd: f64,
    change: impl Fn(&mut Settings),
) -> [f64; 5] {
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    let mut held = [0usize; 5];
    for _ in 0..FITS {
        let joint = draw(&mut rng);
        let mut settings = joint.settings();
        change(&mut settings);
        let mut marks = Vec::new();
        for (id, angles) in placings.iter().enumerate() {
            let offset = normal(&mut rng, 0.0, placing_sd);
            marks.extend(joint.read(&mut rng, angles, 1.0, offset, id as u64));
        }
        let fit = fit(&marks, &settings).expect("a fit");
        let scale = joint.us_per_deg();
        let zero = joint.mid_pulse_us - joint.middle() * scale;
        let told: [(Estimate, f64); 5] = [
            (fit.middle_deg, joint.middle()),
            (fit.us_per_deg, scale),
            (fit.zero_us, zero),
            (fit.bend_deg, joint.bend_deg),
            (fit.half_play_deg, joint.half_play_deg),
        ];
        for (count, (estimate, truth)) in held.iter_mut().zip(told) {
            *count += usize::from(estimate.covers(truth));
        }
    }
    held.map(|n| n as f64 / FITS as f64)
}

fn honest(coverage: &[f64]) -> bool {
    coverage.iter().all(|share| (0.93..=0.97).contains(share))
}

#[test]
fn intervals_of_a_matched_model_without_priors_are_honest() {
    let all = coverage(1, Joint::of_priors, &[&SIX], 0.0, |settings| {
        settings.priors = Priors::NONE;
        settings.readings.absolute.placing_deg = 0.0;
        settings.readings.worth = 0.0;
    });
    println!("no priors, 12 readings: {all:?}");
    assert!(honest(&all), "{all:?}");
}

#[test]
fn intervals_of_a_matched_model_with_priors_and_placings_are_honest() {
    for placings in [&[&THREE[..]][..], &[&SIX[..]], &[&THREE[..], &THREE[..]]] {
        let all = coverage(2, Joint::of_priors, placings, 1.0, |_| ());
        println!(
            "{} placings of {} angles: {all:?}",
            placings.len(),
            placings[0].len()
        );
        assert!(honest(&all), "{all:?}");
    }
}

#[test]
fn intervals_are_honest_for_the_population_too() {
    // Its bend is spread evenly to ±2°, the prior is a normal of 1°: near enough for zero and scale.
    let all = coverage(3, Joint::of_population, &[&THREE, &THREE], 1.0, |_| ());
    println!("population: {all:?}");
    assert!(honest(&all[..3]), "{all:?}");
}

/// The control: this check can fail, and fails where the model leaves something out.
#[test]
fn without_the_placings_error_the_intervals_are_not_honest() {
    let all = coverage(2, Joint::of_priors, &[&THREE], 1.0, |settings| {
        settings.readings.absolute.placing_deg = 0.0;
    });
    println!("placing error left out: {all:?}");
    assert!(!honest(&all[..1]), "{all:?}");
    assert!(all[0] < 0.75, "the angle at mid-travel suffers: {all:?}");
    assert!(
        honest(&all[1..2]),
        "a common offset leaves µs/degree alone: {all:?}"
    );
}

#[test]
fn without_priors_the_estimates_are_as_good_as_they_can_be() {
    // Cramér and Rao: with the noise known, the covariance of a linear fit is the bound itself.
    let mut rng = ChaCha8Rng::seed_from_u64(4);
    let joint = Joint::of_priors(&mut rng);
    let mut settings = joint.settings();
    settings.priors = Priors::NONE;
    settings.readings.absolute.placing_deg = 0.0;
    settings.readings.worth = f64::INFINITY;
    let mut sums = [[0.0; 2]; 4];
    let mut bound = [0.0; 4];
    for _ in 0..FITS {
        let marks = joint.read(&mut rng, &SIX, 1.0, 0.0, 1);
        let fit = fit(&marks, &settings).expect("a fit");
        assert_eq!(fit.ended, Ended::NoiseAsStated);
        let stretch = joint.way * EXPECTED / fit.us_per_deg.value;
        let ours = [
            fit.middle_deg.value,
            stretch,
            fit.bend_deg.value,
            fit.half_play_deg.value,
        ];
        for (i, value) in ours.into_iter().enumerate() {
            sums[i][0] += value;
            sums[i][1] += value * value;
            bound[i] = fit.covariance[i][i].sqrt();
        }
    }
    let n = FITS as f64;
    for (unknown, (sum, bound)) in Unknown::ALL.iter().zip(sums.iter().zip(bound)) {
        let sd = (sum[1] / n - (sum[0] / n).powi(2)).sqrt();
        println!("{}: sd over bound {:.4}", unknown.words(), sd / bound);
        assert!((sd / bound - 1.0).abs() < 0.05, "{unknown:?}: {sd} {bound}");
    }
}

/// Fits of the population with two placings, one reading wrong by `blunder` degrees: how often it is
/// named, and how often a sound one is.
fn doubts(seed: u64, blunder: f64, angles: &[f64]) -> (f64, f64) {
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    let (mut named, mut wronged) = (0, 0);
    let fits = FITS / 4;
    for _ in 0..fits {
        let joint = Joint::of_population(&mut rng);
        let offset = normal(&mut rng, 0.0, 1.0);
        let mut marks = joint.read(&mut rng, angles, 1.0, offset, 1);
        let wrong = rng.random_range(0..marks.len());
        marks[wrong].angle_deg += blunder;
        let fit = fit(&marks, &joint.settings()).expect("a fit");
        named += usize::from(fit.residuals[wrong].doubted);
        wronged += usize::from(fit.doubted().any(|i| blunder == 0.0 || i != wrong));
    }
    (named as f64 / fits as f64, wronged as f64 / fits as f64)
}

#[test]
fn a_blunder_is_named_and_sound_marks_are_left_in_peace() {
    let (_, alarms) = doubts(7, 0.0, &THREE);
    println!("false alarms with 6 readings: {alarms}");
    assert!(alarms <= 0.02, "{alarms}");
    for (blunder, angles, least) in [
        (10.0, &THREE[..], 0.95),
        (-10.0, &SIX, 0.999),
        (6.0, &SIX, 0.85),
    ] {
        let (named, wronged) = doubts(8, blunder, angles);
        println!(
            "{blunder}° among {} readings: named {named}, a sound one doubted {wronged}",
            2 * angles.len()
        );
        assert!(
            named >= least && wronged <= 0.03,
            "{blunder}: {named} {wronged}"
        );
    }
}

#[test]
fn two_blunders_are_both_named() {
    let mut rng = ChaCha8Rng::seed_from_u64(9);
    let joint = Joint::of_population(&mut rng);
    let mut marks = joint.read(&mut rng, &THREE_TWICE, 1.0, 0.0, 1);
    marks[1].angle_deg += 15.0;
    marks[8].angle_deg -= 12.0;
    let fit = fit(&marks, &joint.settings()).expect("a fit");
    assert_eq!(fit.doubted().collect::<Vec<_>>(), [1, 8]);
}

#[test]
fn leaving_a_mark_out_moves_the_fit_as_the_residual_says() {
    let mut rng = ChaCha8Rng::seed_from_u64(10);
    let joint = Joint::of_population(&mut rng);
    let mut settings = joint.settings();
    // The noise as stated, so that the weights are the same with and without the mark.
    settings.readings.worth = f64::INFINITY;
    let marks = joint.read(&mut rng, &THREE, 1.0, 0.5, 1);
    let whole = fit(&marks, &settings).expect("a fit");
    for i in 0..marks.len() {
        let mut rest = marks.clone();
        let left = rest.remove(i);
        let without = fit(&rest, &settings).expect("a fit");
        let said = whole.residuals[i];
        let middle = without.middle_deg.value - whole.middle_deg.value;
        let scale = without.us_per_deg.value - whole.us_per_deg.value;
        assert!((said.moves_middle_deg - middle).abs() < 1e-9, "{i}");
        assert!((said.moves_us_per_deg - scale).abs() < 1e-9, "{i}");
        let side = left.from.map_or(0.0, Side::sign) * joint.way;
        let offset = without.placings[0].offset_deg.expect("an offset").value;
        let expected =
            without.angle_deg(left.pulse_us).value - side * without.half_play_deg.value + offset;
        assert!(
            (said.off_by_deg - (left.angle_deg - expected)).abs() < 1e-9,
            "{i}"
        );
    }
}

#[test]
fn another_mark_brings_what_was_promised() {
    let mut rng = ChaCha8Rng::seed_from_u64(11);
    let joint = Joint::of_population(&mut rng);
    let mut settings = joint.settings();
    settings.readings.worth = f64::INFINITY;
    let marks = joint.read(&mut rng, &THREE, 1.0, 0.5, 1);
    let now = fit(&marks, &settings).expect("a fit");
    let reach = (joint.mid_pulse_us - 500.0, joint.mid_pulse_us + 500.0);
    let offers = now.another(reach, MarkKind::Absolute).expect("offers");
    assert_eq!(
        offers.len(),
        2,
        "with the gauge left in place, and placed anew"
    );
    for offer in offers {
        let mut more = marks.clone();
        more.push(Mark {
            pulse_us: offer.pulse_us,
            from: Some(offer.from),
            // Any angle: what is learnt does not depend on what is read, but for the value of µs/degree.
            angle_deg: now.angle_deg(offer.pulse_us).value,
            placing: offer.placing,
            kind: MarkKind::Absolute,
        });
        let then = fit(&more, &settings).expect("a fit");
        assert_eq!(offer.middle_deg.now, now.middle_deg.half_width());
        let close =
            |a: f64, b: f64, tolerance: f64| assert!((a / b - 1.0).abs() < tolerance, "{a} {b}");
        close(offer.middle_deg.then, then.middle_deg.half_width(), 1e-3);
        close(offer.us_per_deg.then, then.us_per_deg.half_width(), 2e-2);
        println!("{offer:?}");
    }
}

#[test]
fn the_advice_is_what_sense_says() {
    let joint = Joint {
        mid_pulse_us: 1500.0,
        ..Joint::of_priors(&mut ChaCha8Rng::seed_from_u64(12))
    };
    let mut rng = ChaCha8Rng::seed_from_u64(13);
    let reach = (1023.0, 1977.0);
    let offers = |marks: &[Mark]| {
        fit(marks, &joint.settings())
            .expect("a fit")
            .another(reach, MarkKind::Absolute)
            .expect("offers")
    };
    // Only the middle is marked: scale is wanted, at an end of the reach.
    let middle = joint.read(&mut rng, &[0.0], 1.0, 0.0, 1);
    let first = offers(&middle)[0];
    assert!(
        first.helps() && (first.pulse_us - 1500.0).abs() > 400.0,
        "{first:?}"
    );
    // After many readings in one placing what remains is the placing's own error: place it anew.
    let many = joint.read(&mut rng, &SIX.repeat(3), 1.0, 0.0, 1);
    let best = offers(&many)[0];
    assert_eq!(best.placing, None, "{best:?}");
    assert!(best.helps() && best.middle_deg.share() > 0.15, "{best:?}");
    // A gauge placed a dozen times over: another mark no longer helps.
    let placed: Vec<Mark> = (0..12)
        .flat_map(|id| joint.read(&mut rng, &SIX, 1.0, 0.0, id))
        .collect();
    assert!(offers(&placed).iter().all(|offer| !offer.helps()));
}

fn untold(fit: &Fit) -> Vec<Unknown> {
    fit.untold.iter().flat_map(|it| it.what.clone()).collect()
}

#[test]
fn what_the_marks_do_not_tell_is_named() {
    let mut rng = ChaCha8Rng::seed_from_u64(14);
    let joint = Joint::of_priors(&mut rng);
    let settings = joint.settings();
    let fitted = |marks: &[Mark]| fit(marks, &settings).expect("a fit");
    let whole = joint.read(&mut rng, &THREE, 1.0, 0.0, 1);
    assert_eq!(untold(&fitted(&whole)), []);
    // One angle only: neither scale nor bend.
    let one = fitted(&joint.read(&mut rng, &[0.0], 1.0, 0.0, 1));
    assert_eq!(one.alone[Unknown::Scale.index()], None);
    assert!(one.alone[Unknown::Middle.index()].is_some());
    let open = untold(&one);
    assert!(
        open.contains(&Unknown::Scale) && open.contains(&Unknown::Bend),
        "{open:?}"
    );
    // One side only: the play and the middle are told together.
    let below: Vec<Mark> = whole
        .iter()
        .copied()
        .filter(|m| m.from == Some(Side::Below))
        .collect();
    let sided = fitted(&below);
    assert_eq!(untold(&sided), [Unknown::Play]);
    assert!(sided.untold[0].text().contains("from both sides"));
    assert_eq!(sided.alone[Unknown::Play.index()], None);
    // Two angles: no bend.
    let two = fitted(&joint.read(&mut rng, &[-45.0, 45.0], 1.0, 0.0, 1));
    assert!(untold(&two).contains(&Unknown::Bend) && !untold(&two).contains(&Unknown::Scale));
    // Differences: a good scale, no zero.
    let left_in_place: Vec<Mark> = joint
        .read(&mut rng, &THREE, 0.3, 20.0, 1)
        .iter()
        .map(|m| Mark {
            kind: MarkKind::Difference,
            ..*m
        })
        .collect();
    let differences = fitted(&left_in_place);
    assert_eq!(untold(&differences), [Unknown::Middle]);
    assert!(differences.untold[0].text().contains("read a gauge"));
    assert!(
        differences.middle_deg.sd > 9.0,
        "only the prior speaks of it"
    );
    // And one edge on two screw heads adds it.
    let mut both = left_in_place;
    both.push(Mark {
        pulse_us: joint.mid_pulse_us,
        from: Some(Side::Below),
        angle_deg: joint.middle(),
        placing: None,
        kind: MarkKind::Null,
    });
    let both = fitted(&both);
    assert_eq!(untold(&both), []);
    assert!(both.middle_deg.sd < 0.75, "{:?}", both.middle_deg);
    // Without any prior an open unknown is an error that names it.
    let mut bare = settings;
    bare.priors = Priors::NONE;
    let error = fit(&below, &bare)
        .expect_err("the play is open")
        .to_string();
    assert!(error.contains("the play"), "{error}");
}

#[test]
fn kinds_of_readings_are_as_good_as_they_are_said_to_be() {
    // Screw heads give zero to 0.4-0.6°, an inclinometer left in place gives scale.
    let joint = Joint::of_priors(&mut ChaCha8Rng::seed_from_u64(15));
    let mark = |deg: f64, from, placing, kind| Mark {
        pulse_us: joint.mid_pulse_us + deg * EXPECTED,
        from: Some(from),
        angle_deg: joint.middle() + deg,
        placing,
        kind,
    };
    let heads = [Side::Below, Side::Above].map(|from| mark(0.0, from, None, MarkKind::Null));
    let zero = fit(&heads, &joint.settings()).expect("a fit").middle_deg;
    assert!((0.3..0.6).contains(&zero.sd), "{zero:?}");
    let tilts: Vec<Mark> = THREE
        .iter()
        .flat_map(|deg| {
            [Side::Below, Side::Above].map(|s| mark(*deg, s, Some(1), MarkKind::Difference))
        })
        .collect();
    let scale = fit(&tilts, &joint.settings()).expect("a fit").us_per_deg;
    assert!(scale.sd / scale.value < 0.004, "{scale:?}");
}

#[test]
fn a_joint_that_turns_the_other_way_is_found_out() {
    let mut rng = ChaCha8Rng::seed_from_u64(16);
    let mut others = 0;
    for _ in 0..200 {
        let joint = Joint::of_population(&mut rng);
        let marks = joint.read(&mut rng, &THREE, 1.0, 0.0, 1);
        let mut settings = joint.settings();
        let right = fit(&marks, &settings).expect("a fit");
        settings.us_per_deg = -settings.us_per_deg;
        let wrong = fit(&marks, &settings).expect("a fit");
        others += usize::from(wrong.other_way && !right.other_way);
        assert!((wrong.us_per_deg.value - right.us_per_deg.value).abs() < 1e-6);
        assert!((wrong.half_play_deg.value - right.half_play_deg.value).abs() < 1e-6);
    }
    assert_eq!(others, 200);
}

#[test]
fn a_servo_far_from_the_expected_is_not_pulled_back_to_it() {
    // A servo of 270° over 2000 µs, 7.4 µs/degree, where 10.6 were expected; and a horn three teeth off.
    let mut rng = ChaCha8Rng::seed_from_u64(17);
    let joint = Joint {
        stretch: 10.6 / 7.4,
        at_bend_deg: 43.2,
        bend_deg: 0.0,
        ..Joint::of_priors(&mut rng)
    };
    let mut sum = 0.0;
    for _ in 0..400 {
        let marks = joint.read(&mut rng, &THREE, 1.0, 0.0, 1);
        let fit = fit(&marks, &joint.settings()).expect("a fit");
        let mut refuted: Vec<Unknown> = fit.refuted.iter().map(|it| it.what).collect();
        refuted.sort();
        assert_eq!(refuted, [Unknown::Middle, Unknown::Scale]);
        sum += fit.us_per_deg.value / 400.0;
    }
    assert!((sum / 7.4 - 1.0).abs() < 0.002, "{sum}");
}

#[test]
fn a_bend_is_reported_when_the_marks_call_for_it() {
    let mut rng = ChaCha8Rng::seed_from_u64(18);
    let mut share = |bend_deg: f64, noise: f64| {
        let mut bent: u32 = 0;
        for _ in 0..500 {
            let joint = Joint {
                bend_deg,
                ..Joint::of_priors(&mut rng)
            };
            let marks = joint.read(&mut rng, &SIX, noise, 0.0, 1);
            let mut settings = joint.settings();
            settings.readings.absolute.noise_deg = noise;
            bent += u32::from(fit(&marks, &settings).expect("a fit").bent);
        }
        f64::from(bent) / 500.0
    };
    let (straight, strong) = (share(0.0, 1.0), share(2.0, 0.25));
    println!("called bent: straight {straight}, 2° with a 0.25° gauge {strong}");
    assert!(straight <= 0.05 && strong >= 0.95, "{straight} {strong}");
}

#[test]
fn a_noisy_gauge_is_noticed() {
    let mut rng = ChaCha8Rng::seed_from_u64(19);
    let joint = Joint::of_population(&mut rng);
    let mut mean = |noise: f64| {
        let (mut factor, mut width) = (0.0, 0.0);
        for _ in 0..200 {
            let fit = fit(
                &joint.read(&mut rng, &SIX, noise, 0.0, 1),
                &joint.settings(),
            )
            .expect("a fit");
            assert!(matches!(fit.ended, Ended::Settled { .. }));
            factor += fit.noise_factor / 200.0;
            width += fit.us_per_deg.half_width() / 200.0;
        }
        (factor, width)
    };
    let (quiet, loud) = (mean(1.0), mean(3.0));
    println!(
        "stated 1°, really 1° and 3°: factors {:.2} and {:.2}",
        quiet.0, loud.0
    );
    assert!(
        (0.9..1.1).contains(&quiet.0) && loud.0 > 1.8,
        "{quiet:?} {loud:?}"
    );
    assert!(loud.1 > 1.8 * quiet.1, "{quiet:?} {loud:?}");
}

#[test]
fn a_mark_of_which_the_side_is_not_known_counts_for_less() {
    let joint = Joint::of_priors(&mut ChaCha8Rng::seed_from_u64(20));
    let mark = |from| Mark {
        pulse_us: 1500.0,
        from,
        angle_deg: 0.0,
        placing: Some(1),
        kind: MarkKind::Null,
    };
    let known = fit(
        &[mark(Some(Side::Below)), mark(Some(Side::Above))],
        &joint.settings(),
    )
    .expect("a fit");
    let loose = fit(&[mark(None), mark(None)], &joint.settings()).expect("a fit");
    assert!(loose.middle_deg.sd > 1.1 * known.middle_deg.sd);
    assert!(untold(&loose).contains(&Unknown::Play));
}

#[test]
fn gravity_that_holds_the_play_costs_a_little() {
    // Marks of a joint that falls through its play all lie on one side of the mid-line, whatever
    // the take-up move; nothing in them says so. The ± is for an unloaded joint, and this is the price.
    let mut rng = ChaCha8Rng::seed_from_u64(22);
    let (mut middle, mut scale) = (0, 0);
    for _ in 0..FITS {
        let joint = Joint::of_population(&mut rng);
        let offset = normal(&mut rng, 0.0, 1.0);
        let mut marks = joint.read(&mut rng, &THREE, 1.0, offset, 1);
        for mark in &mut marks {
            let side = mark.from.map_or(0.0, Side::sign) * joint.way;
            mark.angle_deg += joint.half_play_deg * (side - 1.0);
        }
        let fit = fit(&marks, &joint.settings()).expect("a fit");
        let error = fit.middle_deg.value - joint.middle() - offset;
        middle += usize::from(error.abs() <= 1.25);
        scale += usize::from((fit.us_per_deg.value / joint.us_per_deg() - 1.0).abs() <= 0.025);
    }
    let (middle, scale) = (middle as f64 / FITS as f64, scale as f64 / FITS as f64);
    println!(
        "all on gravity's side: middle {middle:.4} within 1.25°, µs/degree {scale:.4} within 2.5 %"
    );
    assert!(middle >= 0.88 && scale >= 0.95, "{middle} {scale}");
}
