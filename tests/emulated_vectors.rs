//! Every exchange of `protocol/vectors` on the firmware's own ELF, through the emulated chip's UART.
#![cfg(feature = "emulated")]

#[path = "support/bench.rs"]
mod bench;
#[path = "support/chip_vectors.rs"]
mod chip_vectors;
#[path = "support/emulator.rs"]
mod emulator;
#[path = "support/pulses.rs"]
mod pulses;
#[path = "support/vector_file.rs"]
mod vector_file;

#[test]
fn the_chip_answers_every_exchange_as_written() {
    chip_vectors::run_all(&emulator::firmware());
}

/// A runner that cannot fail proves nothing: a wrong expectation must be found.
#[test]
fn a_wrong_expectation_is_found() {
    let text = "exchange sound\n> hello now\n< refused count\nexchange wrong\n> hello now\n< refused number\nexchange silent\n>= \n< done\n";
    let exchanges = vector_file::read("made up", text).expect("it reads");
    let elf = emulator::firmware();
    let phase = chip_vectors::phase(&elf);
    let results: Vec<bool> = exchanges
        .iter()
        .map(|exchange| chip_vectors::run(&elf, exchange, phase).is_ok())
        .collect();
    assert_eq!(results, [true, false, false]);
}
