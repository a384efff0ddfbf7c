//! What lies under the song on a page: rows of spans on the same ruler, each with its words.

use charts::song::{Kind, Row, Scale, Span, song_clocks};
use maud::{Markup, html};
use model::{PlacedTake, Project, SongTime, Stretch, TakeId};

/// What lies under the song on a page.
#[derive(Clone, Debug, Default, PartialEq)]
pub enum Layer {
    /// Nothing.
    #[default]
    None,
    /// These rows.
    Rows(Vec<Row>),
    /// These rows, and the bounds of the sections can be taken hold of: for the page they are put right on.
    Sections(Vec<Row>),
}

impl Layer {
    /// The ideas that belong somewhere; those that overlap lie in rows below each other.
    pub fn ideas(project: &Project) -> Self {
        let mut pinned: Vec<(&model::Idea, Stretch)> = project
            .ideas
            .iter()
            .filter_map(|idea| Some((idea, idea.at?)))
            .collect();
        pinned.sort_by_key(|(_, at)| (at.start(), at.end()));
        let mut rows: Vec<(SongTime, Row)> = Vec::new();
        for (idea, at) in pinned {
            let span = Span::over(
                at,
                Kind::Pale,
                format!("{}: {}", song_clocks(at), idea.text),
            )
            .with_inside(&idea.text)
            .to(format!("/change/idea/{}", idea.id));
            match rows.iter_mut().find(|(end, _)| *end <= at.start()) {
                Some((end, row)) => {
                    *end = at.end();
                    row.spans.push(span);
                }
                None => rows.push((
                    at.end(),
                    Row {
                        name: if rows.is_empty() { "Ideas" } else { "" }.into(),
                        spans: vec![span],
                    },
                )),
            }
        }
        Self::Rows(rows.into_iter().map(|(_, row)| row).collect())
    }

    /// The lyrics that have their times.
    pub fn lyrics(project: &Project) -> Self {
        let lines = project.song.iter().flat_map(|song| &song.lyrics);
        let spans: Vec<Span> = lines
            .filter_map(|line| {
                let at = line.at?;
                let words = format!("{}: {}", song_clocks(at), line.text);
                Some(Span::over(at, Kind::Outline, words).with_inside(&line.text))
            })
            .collect();
        Self::one("Lyrics", spans)
    }

    /// Where each setup was shot: a row each.
    pub fn shot(project: &Project, takes: &[PlacedTake]) -> Self {
        let link = |id: &TakeId| Some(format!("/change/take/{id}"));
        let rows = charts::song::shot(project, takes, &link).into_iter();
        Self::Rows(rows.map(|(_, row)| row).collect())
    }

    /// The newest cut.
    pub fn cut(project: &Project) -> Self {
        let Some(cut) = project.newest_cut() else {
            return Self::None;
        };
        let shots = charts::song::cut(project, cut).into_iter();
        let spans = shots.map(|(_, span)| span).collect();
        Self::one(&format!("Cut {}", cut.version), spans)
    }

    fn one(name: &str, spans: Vec<Span>) -> Self {
        if spans.is_empty() {
            return Self::None;
        }
        Self::Rows(vec![Row {
            name: name.to_owned(),
            spans,
        }])
    }

    /// The rows of both, these first.
    pub fn and(self, other: Self) -> Self {
        let rows = |rows: Vec<Row>, more: Self| rows.into_iter().chain(more.into_rows()).collect();
        match self {
            Self::None => other,
            Self::Rows(own) => Self::Rows(rows(own, other)),
            Self::Sections(own) => Self::Sections(rows(own, other)),
        }
    }

    /// The same, with bounds of sections that can be taken hold of.
    pub fn with_bounds(self) -> Self {
        Self::Sections(self.into_rows())
    }

    /// Its rows.
    pub fn rows(&self) -> &[Row] {
        match self {
            Self::None => &[],
            Self::Rows(rows) | Self::Sections(rows) => rows,
        }
    }

    fn into_rows(self) -> Vec<Row> {
        match self {
            Self::None => Vec::new(),
            Self::Rows(rows) | Self::Sections(rows) => rows,
        }
    }
}

/// One row with its name before it.
pub fn draw(row: &Row, scale: Scale) -> Markup {
    html! { div.strip-name title=(row.name) { (row.name) } (row.draw(scale)) }
}

/// The rows in words: for whoever does not see the drawing.
pub fn in_words(rows: &[Row]) -> Markup {
    html! {
        @for row in rows.iter().filter(|row| !row.spans.is_empty()) {
            @if !row.name.is_empty() { h3 { (row.name) } }
            ul { @for span in &row.spans { li { (span.words) } } }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use model::{Idea, NoteId};

    fn stretch(from_s: f64, to_s: f64) -> Stretch {
        Stretch::between_seconds(from_s, to_s).expect("a stretch")
    }

    fn idea(id: &str, at: Option<Stretch>) -> Idea {
        Idea {
            id: NoteId::new(id).expect("an id"),
            at,
            text: format!("the {id}"),
            extra: Default::default(),
        }
    }

    #[test]
    fn ideas_that_overlap_lie_below_each_other() {
        let project = Project {
            ideas: vec![
                idea("second", Some(stretch(4.0, 8.0))),
                idea("first", Some(stretch(0.0, 5.0))),
                idea("third", Some(stretch(8.0, 9.0))),
                idea("nowhere", None),
            ],
            ..Project::default()
        };
        let layer = Layer::ideas(&project);
        let rows: Vec<usize> = layer.rows().iter().map(|row| row.spans.len()).collect();
        assert_eq!(rows, [2, 1]);
        assert_eq!(layer.rows()[0].spans[1].inside, "the third");
        assert_eq!(
            layer.rows()[1].spans[0].href.as_deref(),
            Some("/change/idea/second")
        );
    }

    #[test]
    fn layers_are_put_together() {
        let rows = Layer::Rows(vec![Row::default()]);
        assert_eq!(Layer::None.and(rows.clone()).rows().len(), 1);
        let both = rows.clone().with_bounds().and(rows);
        assert!(matches!(&both, Layer::Sections(rows) if rows.len() == 2));
    }
}
