//! `hornset ports`, the real program.

use std::process::Command;

fn ports(args: &[&str]) -> (Option<i32>, String, String) {
    let output = Command::new(env!("CARGO_BIN_EXE_hornset"))
        .arg("ports")
        .args(args)
        .output()
        .expect("the program starts");
    let text = |bytes| String::from_utf8(bytes).expect("UTF-8");
    (
        output.status.code(),
        text(output.stdout),
        text(output.stderr),
    )
}

/// Whatever this machine has: text and JSON agree, the exit code says whether there is any port,
/// and messages never mix with data.
#[test]
fn text_and_json_agree_and_the_exit_code_says_whether_there_is_one() {
    let (code, text, messages) = ports(&[]);
    let (json_code, json, _) = ports(&["--json"]);
    assert_eq!(code, json_code);
    let list: Vec<serde_json::Value> = serde_json::from_str(&json).expect("a JSON array");
    assert_eq!(text.lines().count(), list.len());
    for (line, port) in text.lines().zip(&list) {
        let path = port["path"].as_str().expect("a path");
        assert!(line.starts_with(path), "{line} and {path}");
        match &port["usb"] {
            serde_json::Value::Null => assert!(line.ends_with("(not USB)"), "{line}"),
            usb => {
                for key in ["vendor", "product", "serial", "maker", "name"] {
                    assert!(usb.get(key).is_some(), "{key} in {usb}");
                }
                let id = usb["vendor"].as_str().expect("four digits");
                assert!(line.contains(id), "{line} and {id}");
            }
        }
    }
    if list.is_empty() {
        assert_eq!(code, Some(1));
        assert!(messages.contains("plug the board in"), "{messages}");
    } else {
        assert_eq!((code, messages.as_str()), (Some(0), ""));
    }
}

#[test]
fn a_word_that_is_not_understood_is_a_usage_error() {
    let (code, data, messages) = ports(&["--colour"]);
    assert_eq!((code, data.as_str()), (Some(2), ""));
    assert!(messages.contains("--colour"), "{messages}");
}
