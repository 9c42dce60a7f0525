//! What is known: legs by joints, a word or a count in each cell.

use super::pen::{Pen, columns};
use crate::console::theme::Role;

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

/// Columns from one joint to the next.
const STRIDE: i32 = 12;

impl Matrix {
    /// Draws the head row and a row a leg; says how many rows it took.
    pub fn draw(&self, pen: &mut Pen<'_>) -> i32 {
        for (column, joint) in (0..).zip(["coxa", "femur", "tibia"]) {
            pen.text(6 + STRIDE * column, 0, joint, Role::Plain);
        }
        for (index, row) in self.rows.iter().enumerate() {
            let y = index as i32 + 1;
            pen.text_until(0, y, 5, &row.leg, Role::Plain);
            for (column, cell) in row.cells.iter().enumerate() {
                let x = 6 + STRIDE * column as i32;
                let role = match cell.kind {
                    CellKind::Plain => Role::Plain,
                    CellKind::Wrong => Role::Wrong,
                    CellKind::Dead => Role::End,
                };
                pen.text_until(x, y, x + STRIDE - 2, &cell.text, role);
                if self.chosen == Some((index, column)) {
                    pen.sign(x - 1, y, '►', Role::Plain);
                    pen.mark(
                        x - 1,
                        y,
                        1 + columns(&cell.text).min(STRIDE - 2),
                        Role::Chosen,
                    );
                }
            }
        }
        self.rows.len() as i32 + 1
    }
}
