//! The real console in a pseudo-terminal, on the practice robot.
#![cfg(all(unix, feature = "practice"))]

#[path = "support/pty.rs"]
mod pty;

use pty::Console;

#[test]
fn try_it() {
    let folder = pty::folder();
    let console = Console::start(&[], folder.path());
    console.see("where do we work today?");
    println!("{}", console.screen());
    console.press("<Enter>", "Home");
    println!("{}", console.screen());
    console.press("<Enter>", "on the stand, legs");
    println!("{}", console.screen());
    console.press("<Enter>", "on the stand  Space=limp");
    console.press("i<Enter>", "Jog");
    println!("{}", console.screen());
    console.press("w", "full speed");
    println!("{}", console.screen());
    console.press("<Enter>", "1 awake");
    println!("{}", console.screen());
    console.press("l", "1508");
    println!("{}", console.screen());
    console.press("?", "Help");
    println!("{}", console.screen());
    console.keys("<Esc>");
    console.press("<Space>", "│ limp");
    println!("{}", console.screen());
}
