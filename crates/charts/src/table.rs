//! The numbers of a chart as rows of text, and as an HTML table.

use crate::draw::escaped;
use std::fmt::Write as _;

/// What a chart shows, in words and figures.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Table {
    /// What each column holds.
    pub header: Vec<&'static str>,
    /// The rows, each as long as the header.
    pub rows: Vec<Vec<String>>,
}

impl Table {
    pub(crate) fn new<const N: usize>(header: [&'static str; N]) -> Self {
        Self {
            header: header.to_vec(),
            rows: Vec::new(),
        }
    }

    pub(crate) fn push<const N: usize>(&mut self, row: [String; N]) {
        self.rows.push(row.to_vec());
    }

    /// As an HTML table; the first cell of a row is its head.
    pub fn html(&self, caption: &str) -> String {
        let mut out = String::new();
        let _ = write!(
            out,
            "<table><caption>{}</caption><thead><tr>",
            escaped(caption)
        );
        for name in &self.header {
            let _ = write!(out, r#"<th scope="col">{}</th>"#, escaped(name));
        }
        out.push_str("</tr></thead><tbody>");
        for row in &self.rows {
            out.push_str("<tr>");
            for (nth, cell) in row.iter().enumerate() {
                let cell = escaped(cell);
                let _ = match nth {
                    0 => write!(out, r#"<th scope="row">{cell}</th>"#),
                    _ => write!(out, "<td>{cell}</td>"),
                };
            }
            out.push_str("</tr>");
        }
        out.push_str("</tbody></table>");
        out
    }

    /// As lines of text, columns apart, for tests and terminals.
    pub fn text(&self) -> String {
        let mut out = self.header.join(" | ");
        out.push('\n');
        for row in &self.rows {
            out.push_str(row.join(" | ").trim_end());
            out.push('\n');
        }
        out
    }
}
