//! One leg as it was built: three servos with horns, play and links that gravity pulls at and that end somewhere.
//!
//! A model of the test's own: it shares nothing with the practice robot, and knows pulses alone.

/// How fast a servo closes on its target over the last few degrees, one a second. Common practice: they slow down there.
const CLOSES: f64 = 30.0;
/// How fast a link falls through the play, degrees a millisecond.
const FALLS_DEG: f64 = 0.05;
/// Above this share of its greatest pull gravity moves a link through its play against friction.
const FRICTION: f64 = 0.3;

/// What was built, and nothing of it is known to the builder.
#[derive(Debug, Clone, PartialEq)]
pub struct Built {
    pub name: &'static str,
    /// The joint's angle at 1500 µs, on the middle of play and dead band: where the horn went on.
    pub middle_deg: f64,
    /// At 1500 µs; negative where the joint falls as the pulse grows.
    pub us_per_deg: f64,
    /// Degrees more for each degree squared from 1500 µs: no response is quite straight.
    pub bend_per_deg: f64,
    /// Pulses nearer than this to where it stands do nothing.
    pub dead_us: f64,
    pub half_play_deg: f64,
    /// Without load.
    pub top_deg_s: f64,
    /// The servo's own travel to either side of 1500 µs.
    pub reach_deg: f64,
    /// Where the linkage ends, the lower first.
    pub ends_deg: (f64, f64),
    /// How far the link gives at gravity's greatest pull.
    pub droop_deg: f64,
    /// How it hangs before anything wakes.
    pub hangs_deg: f64,
}

impl Built {
    /// Where a pulse sends the joint if nothing is in its way.
    pub fn sent_deg(&self, us: f64) -> f64 {
        let servo = (us - 1500.0) / self.us_per_deg.abs();
        let bent = servo + self.bend_per_deg * servo * servo;
        self.middle_deg + self.us_per_deg.signum() * bent.clamp(-self.reach_deg, self.reach_deg)
    }

    /// The pulse that sends it to an angle, by halving: the response only ever rises or falls.
    pub fn us_at(&self, deg: f64) -> f64 {
        let (mut low, mut high) = (500.0, 2500.0);
        let rises = self.us_per_deg > 0.0;
        for _ in 0..60 {
            let middle = (low + high) / 2.0;
            if (self.sent_deg(middle) < deg) == rises {
                low = middle;
            } else {
                high = middle;
            }
        }
        (low + high) / 2.0
    }

    /// The pulses at which the linkage ends, the shorter first.
    pub fn ends_us(&self) -> (f64, f64) {
        let (a, b) = (self.us_at(self.ends_deg.0), self.us_at(self.ends_deg.1));
        (a.min(b), a.max(b))
    }

    /// µs/degree of the best straight line over ±45° about mid-travel.
    pub fn line_us_per_deg(&self) -> f64 {
        let points: Vec<(f64, f64)> = (-45..=45)
            .map(|step| f64::from(step) * self.us_per_deg.abs())
            .map(|us| (us, self.sent_deg(1500.0 + us) - self.middle_deg))
            .collect();
        let slope = |(xy, xx): (f64, f64), (us, deg): &(f64, f64)| (xy + us * deg, xx + us * us);
        let (xy, xx) = points.iter().fold((0.0, 0.0), slope);
        xx / xy
    }
}

/// One stretch of time in which a joint's pulse did not change, and what was to be seen and heard in it.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Stretch {
    pub us: f64,
    /// Where the joint stood when it began.
    pub from_deg: f64,
    /// How far it went from there, at the most.
    pub moved_deg: f64,
    pub hummed: bool,
}

/// One joint with its servo, in motion.
#[derive(Debug)]
pub struct Joint {
    pub built: Built,
    horn_deg: f64,
    link_deg: f64,
    /// Gravity's pull, -1 to 1, positive the joint's positive way.
    pull: f64,
    pub presses: bool,
    pub moves: bool,
    is_driven: bool,
    /// Since it was woken, the present stretch last; kept when it goes limp.
    pub stretches: Vec<Stretch>,
}

impl Joint {
    fn new(built: Built) -> Joint {
        Joint {
            horn_deg: built.hangs_deg,
            link_deg: built.hangs_deg,
            pull: 0.0,
            presses: false,
            moves: false,
            is_driven: false,
            stretches: Vec::new(),
            built,
        }
    }

    /// What a gauge would show that is perfect.
    pub fn deg(&self) -> f64 {
        self.link_deg + self.built.droop_deg * self.pull
    }

    /// A millisecond passes; `us`: none while the pin is limp, and then the gears hold it.
    fn step(&mut self, us: Option<f64>) {
        let before = self.deg();
        self.presses = false;
        if us.is_some() && !self.is_driven {
            self.stretches.clear();
        }
        self.is_driven = us.is_some();
        if let Some(us) = us {
            if self.stretches.last().is_none_or(|it| it.us != us) {
                let from_deg = before;
                self.stretches.push(Stretch {
                    us,
                    from_deg,
                    ..Stretch::default()
                });
            }
            self.drive(us);
        }
        let (half, (low, high)) = (self.built.half_play_deg, self.built.ends_deg);
        if self.pull.abs() > FRICTION {
            self.link_deg += FALLS_DEG * self.pull.signum();
        }
        let (under, over) = (self.horn_deg - half, self.horn_deg + half);
        self.link_deg = self.link_deg.clamp(under, over).clamp(low, high);
        let (deg, presses) = (self.deg(), self.presses);
        self.moves = (deg - before).abs() > 0.005;
        if let Some(stretch) = self.stretches.last_mut() {
            let moved = deg - stretch.from_deg;
            if moved.abs() > stretch.moved_deg.abs() {
                stretch.moved_deg = moved;
            }
            stretch.hummed |= presses;
        }
    }

    /// The farthest that it went since it came to rest after it was woken.
    pub fn swung_deg(&self) -> f64 {
        let Some(rest) = self.stretches.get(1) else {
            return 0.0;
        };
        let ways = self.stretches[1..].iter();
        let ways = ways.map(|it| it.from_deg + it.moved_deg - rest.from_deg);
        ways.fold(
            0.0,
            |most: f64, way| if way.abs() > most.abs() { way } else { most },
        )
    }

    fn drive(&mut self, us: f64) {
        let it = &self.built;
        let error = it.sent_deg(us) - self.horn_deg;
        if error.abs() * it.us_per_deg.abs() <= it.dead_us {
            return;
        }
        let speed = (error * CLOSES).clamp(-it.top_deg_s, it.top_deg_s);
        let free = self.horn_deg + speed / 1000.0;
        // The play is taken up before it stalls.
        let (low, high) = (
            it.ends_deg.0 - it.half_play_deg,
            it.ends_deg.1 + it.half_play_deg,
        );
        self.horn_deg = free.clamp(low, high);
        self.presses = self.horn_deg != free;
    }
}

/// Coxa, femur, tibia of one leg that hangs in the air.
#[derive(Debug)]
pub struct Leg {
    pub joints: [Joint; 3],
}

impl Leg {
    pub fn new(built: [Built; 3]) -> Leg {
        Leg {
            joints: built.map(Joint::new),
        }
    }

    /// A millisecond passes, each joint with the pulse that its servo gets.
    pub fn step(&mut self, us: [Option<f64>; 3]) {
        let femur = self.joints[1].deg().to_radians();
        let shin = femur + self.joints[2].deg().to_radians();
        // The coxa's axis is upright; the thigh carries the shin too.
        let thigh = 0.6 * femur.cos() + 0.4 * shin.cos();
        for (joint, pull) in self.joints.iter_mut().zip([0.0, -thigh, -shin.cos()]) {
            joint.pull = pull;
        }
        for (joint, us) in self.joints.iter_mut().zip(us) {
            joint.step(us);
        }
    }
}
