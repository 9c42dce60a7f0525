//! Compiles the firmware's core for the practice robot: the same C that runs on the board.

fn main() {
    println!("cargo::rerun-if-changed=build.rs");
    #[cfg(feature = "practice")]
    core();
}

#[cfg(feature = "practice")]
fn core() {
    const CORE: &str = "protocol/firmware/src/core";
    println!("cargo::rerun-if-changed={CORE}");
    let mut build = cc::Build::new();
    let files = std::fs::read_dir(CORE).expect("the firmware core is part of the package");
    for file in files {
        let path = file.expect("the firmware core is readable").path();
        if path.extension().is_some_and(|end| end == "c") {
            build.file(path);
        }
    }
    build
        // Tests let hours of the practice robot's time pass, whatever the profile.
        .opt_level(2)
        .flag_if_supported("-std=c99")
        .extra_warnings(true)
        .flag_if_supported("-Wconversion")
        .flag_if_supported("-Wsign-conversion")
        .compile("hornset_core");
}
