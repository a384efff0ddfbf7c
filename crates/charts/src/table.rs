//! The numbers of a chart as rows of text, and as an HTML table.

use maud::{Markup, html};

/// What a chart shows, in words and figures.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Table {
    /// What each column holds.
    pub header: &'static [&'static str],
    /// The rows, each as long as the header.
    pub rows: Vec<Vec<String>>,
}

impl Table {
    pub(crate) const fn new(header: &'static [&'static str]) -> Self {
        Self {
            header,
            rows: Vec::new(),
        }
    }

    /// A row; columns left over at its end are empty.
    pub(crate) fn push(&mut self, row: &[&str]) {
        let mut row: Vec<String> = row.iter().map(|cell| (*cell).to_owned()).collect();
        row.resize(self.header.len(), String::new());
        self.rows.push(row);
    }

    /// As an HTML table; the first cell of a row is its head.
    pub fn html(&self, caption: &str) -> Markup {
        html! {
            table {
                caption { (caption) }
                thead { tr { @for name in self.header { th scope="col" { (name) } } } }
                tbody {
                    @for row in &self.rows {
                        tr {
                            @for (nth, cell) in row.iter().enumerate() {
                                @if nth == 0 { th scope="row" { (cell) } } @else { td { (cell) } }
                            }
                        }
                    }
                }
            }
        }
    }

    /// As lines of text, columns apart, for tests and terminals.
    pub fn text(&self) -> String {
        let rows = self.rows.iter().map(|row| row.join(" | "));
        let lines = std::iter::once(self.header.join(" | ")).chain(rows);
        lines.map(|line| format!("{}\n", line.trim_end())).collect()
    }
}
