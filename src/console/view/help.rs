//! Help: an overlay inside the body, made from the command table's entries.

use super::scale::Scale;

/// Help for one page.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Help {
    /// The page's name.
    pub page: String,
    /// Which part is shown below 120 columns; from there on keys, glyphs and scale stand together.
    pub tab: HelpTab,
    /// The command table's entries for this page.
    pub entries: Vec<HelpEntry>,
    /// First entry or line shown.
    pub scroll: usize,
    /// The scale of the chosen joint, as an example.
    pub scale: Scale,
}

/// The parts of help, in Tab's order.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum HelpTab {
    /// What each key does here.
    #[default]
    Keys,
    /// What each glyph means.
    Glyphs,
    /// The travel scale.
    Scale,
    /// Our words.
    Words,
}

/// One command.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct HelpEntry {
    /// `← → h l`.
    pub keys: String,
    /// What it does.
    pub text: String,
    /// Why it does not work now; drawn dim with the reason beside it.
    pub off: Option<String>,
}
