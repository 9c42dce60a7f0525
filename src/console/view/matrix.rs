//! What is known: legs by joints, a word or a count in each cell.

/// The matrix of what is known.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Matrix {
    /// A row a leg.
    pub rows: Vec<MatrixRow>,
    /// Row and column (0 coxa, 1 femur, 2 tibia) of the chosen cell.
    pub chosen: Option<(usize, usize)>,
}

/// One leg's row.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct MatrixRow {
    /// `LF`.
    pub leg: String,
    /// Coxa, femur, tibia.
    pub cells: [Cell; 3],
}

/// One cell: `plug ?`, `plug 34`, `bounds`, `5 marks`, `far end ?`, `±0.9°`, `dead ×`, `plug 39 !`.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Cell {
    /// At most 10 characters.
    pub text: String,
    /// Its colour's reason.
    pub kind: CellKind,
}

/// What a cell's colour says; the word says it too.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum CellKind {
    /// Nothing special.
    #[default]
    Plain,
    /// Something is wrong: the text ends in `!`.
    Wrong,
    /// The servo did not move when asked: the text ends in `×`.
    Dead,
}
