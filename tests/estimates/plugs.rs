//! Swap lists against random wirings with dead pins, applied plug by plug.

use std::collections::{BTreeMap, HashMap, VecDeque};

use hornset::calibration::{JointKind, JointRef};
use hornset::estimate::plugs::{Doubt, Planned, Tried, wiring};
use hornset::units::Pin;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

fn joint(n: usize) -> JointRef {
    JointRef {
        leg: n / 3,
        kind: JointKind::ALL[n % 3],
    }
}

fn pin(n: usize) -> Pin {
    Pin::new(22 + n as u8).expect("a pin")
}

/// Joint n is planned at pin n.
fn plan(n: usize) -> Vec<Planned> {
    (0..n)
        .map(|i| Planned {
            joint: joint(i),
            pin: pin(i),
        })
        .collect()
}

/// A random wiring: at pin i the plug of joint `plugs[i]`, and which plugs are dead.
fn random(rng: &mut ChaCha8Rng, n: usize, most_dead: usize) -> (Vec<usize>, Vec<bool>) {
    let mut plugs: Vec<usize> = (0..n).collect();
    for i in (1..n).rev() {
        plugs.swap(i, rng.random_range(0..=i));
    }
    let mut dead = vec![false; n];
    for _ in 0..rng.random_range(0..=most_dead) {
        dead[rng.random_range(0..n)] = true;
    }
    (plugs, dead)
}

fn tried(plugs: &[usize], dead: &[bool]) -> Vec<Tried> {
    let moved = |plug: usize| {
        if dead[plug] {
            vec![]
        } else {
            vec![joint(plug)]
        }
    };
    plugs
        .iter()
        .enumerate()
        .map(|(i, plug)| Tried {
            pin: pin(i),
            moved: moved(*plug),
        })
        .collect()
}

#[test]
fn the_swaps_make_the_plan_and_are_as_few_as_the_cycles_allow() {
    let mut rng = ChaCha8Rng::seed_from_u64(31);
    for _ in 0..1000 {
        let (plugs, dead) = random(&mut rng, 18, 4);
        let wiring = wiring(&tried(&plugs, &dead), &plan(18));
        let mut at: BTreeMap<Pin, usize> = (0..18).map(|i| (pin(i), plugs[i])).collect();
        for swap in &wiring.swaps {
            let (a, b) = (at[&swap.from], at[&swap.to]);
            assert!(
                !dead[a] && joint(a) == swap.joint,
                "the plug in hand is the one that is named"
            );
            at.insert(swap.from, b);
            at.insert(swap.to, a);
        }
        for (at, plug) in &at {
            assert!(dead[*plug] || *at == pin(*plug), "{plugs:?} {dead:?}");
        }
        // Plugs that are known and not at home, less one for each ring made of known plugs alone.
        let astray = (0..18)
            .filter(|i| plugs[*i] != *i && !dead[plugs[*i]])
            .count();
        let mut rings = 0;
        let mut seen = [false; 18];
        for start in 0..18 {
            let (mut here, mut length, mut known) = (start, 0, true);
            while !std::mem::replace(&mut seen[here], true) {
                known &= !dead[plugs[here]];
                here = plugs[here];
                length += 1;
            }
            rings += usize::from(length > 1 && known);
        }
        assert_eq!(wiring.swaps.len(), astray - rings, "{plugs:?} {dead:?}");
        // Dead ones and missing joints are named, and nothing else.
        let silent: Vec<Pin> = wiring
            .doubts
            .iter()
            .filter_map(|d| match d {
                Doubt::Silent { pin, .. } => Some(*pin),
                _ => None,
            })
            .collect();
        let missing: Vec<JointRef> = wiring
            .doubts
            .iter()
            .filter_map(|d| match d {
                Doubt::Missing { joint, .. } => Some(*joint),
                _ => None,
            })
            .collect();
        let dead_pins: Vec<Pin> = (0..18).filter(|i| dead[plugs[*i]]).map(pin).collect();
        let dead_joints: Vec<JointRef> = (0..18).filter(|i| dead[*i]).map(joint).collect();
        assert_eq!(silent, dead_pins);
        assert_eq!(missing, dead_joints);
        assert_eq!(wiring.doubts.len(), silent.len() + missing.len());
    }
}

/// The fewest swaps that bring every known plug home, found by trying all.
fn fewest(plugs: &[usize], dead: &[bool]) -> usize {
    let home = |at: &[usize]| at.iter().enumerate().all(|(i, p)| dead[*p] || *p == i);
    let mut known: HashMap<Vec<usize>, usize> = HashMap::from([(plugs.to_vec(), 0)]);
    let mut queue = VecDeque::from([plugs.to_vec()]);
    while let Some(at) = queue.pop_front() {
        let steps = known[&at];
        if home(&at) {
            return steps;
        }
        for a in 0..at.len() {
            for b in a + 1..at.len() {
                let mut next = at.clone();
                next.swap(a, b);
                if !known.contains_key(&next) {
                    known.insert(next.clone(), steps + 1);
                    queue.push_back(next);
                }
            }
        }
    }
    unreachable!("swaps reach every order")
}

#[test]
fn no_shorter_list_exists() {
    let mut rng = ChaCha8Rng::seed_from_u64(32);
    for _ in 0..60 {
        let (plugs, dead) = random(&mut rng, 6, 2);
        let swaps = wiring(&tried(&plugs, &dead), &plan(6)).swaps.len();
        assert_eq!(swaps, fewest(&plugs, &dead), "{plugs:?} {dead:?}");
    }
}
