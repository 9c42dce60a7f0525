//! `hornset new`: writes the file of a new robot, of which nothing is known yet; never over another file.

use std::io::Write;
use std::path::{Path, PathBuf};

use anyhow::anyhow;
use serde_json::json;

use super::{Exit, Outcome, say};
use crate::calibration::blank::{Blank, START_LINKS_MM, lines_with};
use crate::calibration::{file, read};

/// What the new robot is like.
#[derive(Debug, clap::Args)]
pub struct Args {
    /// The robot's name, or a file to write: what ends in .toml or has a slash is a file.
    /// A name becomes a file in calibrations/ when there is such a folder here, else in this one
    #[arg(value_name = "NAME|FILE")]
    name: String,
    /// How many legs, 1 to 8
    #[arg(long, default_value_t = 6, value_parser = clap::value_parser!(u8).range(1..=8))]
    legs: u8,
    /// Lengths of coxa, femur and tibia, mm, the same for every leg
    #[arg(long, num_args = 3, value_names = ["COXA", "FEMUR", "TIBIA"], value_parser = length_mm)]
    links: Option<Vec<f64>>,
    /// Print JSON: an object with the keys `file`, `name`, `legs` (their number)
    #[arg(long)]
    json: bool,
}

/// Writes the file and prints its name; exit code 3 when one of that name is there.
pub fn run(args: Args) -> Outcome {
    let (path, name) = place(&args.name);
    if let Err(why) = read::robot_name(&name) {
        return Err(Exit::Usage.because(anyhow!(
            "{} is no robot's name; expected {why}. Give it another",
            name.escape_debug()
        )));
    }
    let links_mm = match args.links.as_deref() {
        Some(&[coxa, femur, tibia]) => [coxa, femur, tibia],
        _ => START_LINKS_MM,
    };
    let blank = Blank {
        name: name.clone(),
        legs: usize::from(args.legs),
        links_mm,
    };
    let text = blank
        .text()
        .ok_or_else(|| Exit::Usage.because(anyhow!("a robot has 1 to 8 legs here")))?;
    // A femur of 0 mm is refused by the same rules as in a file.
    file::from_text(&text).map_err(|e| Exit::Usage.because(e))?;
    file::create(&path, text.as_bytes()).map_err(|e| Exit::File.because(e))?;
    let shown = file::shown(&path);
    let mut out = std::io::stdout().lock();
    let written = if args.json {
        let value = json!({ "file": path.display().to_string(), "name": name, "legs": args.legs });
        writeln!(out, "{value:#}")
    } else {
        writeln!(out, "{shown}")
    };
    written.map_err(|e| Exit::System.because(e))?;
    let lines = |key: &str| {
        let all = lines_with(&text, key).into_iter();
        all.map(|n| n.to_string()).collect::<Vec<_>>().join(", ")
    };
    say!(
        "hornset: measure your robot and write it into {shown}: where each leg is joined to the body in `mount` (lines {}), its lengths in `links` (lines {}). Then: hornset --file {shown}",
        lines("mount"),
        lines("links")
    );
    Ok(Exit::Fine)
}

/// A finite length; what else a length must be is ruled by the file's own rules.
fn length_mm(text: &str) -> Result<f64, String> {
    match text.parse::<f64>() {
        Ok(mm) if (0.0..=1000.0).contains(&mm) => Ok(mm),
        _ => Err("expected a length in mm, 0 to 1000".into()),
    }
}

/// The file, and the robot's name.
fn place(text: &str) -> (PathBuf, String) {
    let is_file = text.contains(['/', std::path::MAIN_SEPARATOR])
        || Path::new(text)
            .extension()
            .is_some_and(|end| end.eq_ignore_ascii_case("toml"));
    if is_file {
        let path = PathBuf::from(text);
        let stem = path.file_stem().unwrap_or_default().to_string_lossy();
        let name = stem.into_owned();
        return (path, name);
    }
    let plain: String = text
        .to_lowercase()
        .chars()
        .map(|c| if c.is_alphanumeric() { c } else { '-' })
        .collect();
    let file = format!("{plain}.toml");
    let folder = Path::new("calibrations");
    let path = if folder.is_dir() {
        folder.join(file)
    } else {
        PathBuf::from(file)
    };
    (path, text.to_owned())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_name_becomes_a_file_name_and_a_file_gives_a_name() {
        let (path, name) = place("Dune Walker");
        assert_eq!(path.file_name(), Some("dune-walker.toml".as_ref()));
        assert_eq!(name, "Dune Walker");
        let (path, name) = place("sub/Crab.toml");
        assert_eq!((path, name.as_str()), ("sub/Crab.toml".into(), "Crab"));
    }
}
