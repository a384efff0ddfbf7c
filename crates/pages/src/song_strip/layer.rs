//! What lies under the song on a page: rows of spans on the same ruler, each with its words.

use super::drawn::{NARROW, WIDE};
use super::scale::{Scale, clock, words};
use maud::{Markup, html};
use model::{PlacedTake, Project, Rating, SongMap, SongTime, Stretch};

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

/// One row.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Row {
    /// What it is called.
    pub name: String,
    /// What lies in it. Later ones lie over earlier ones.
    pub spans: Vec<Span>,
}

/// A part of the song that something is said of.
#[derive(Clone, Debug, PartialEq)]
pub struct Span {
    /// Its start in the song, seconds.
    pub from_s: f64,
    /// Its end, seconds.
    pub to_s: f64,
    /// How it is drawn.
    pub kind: Kind,
    /// What it says, for whoever points at it or has it read out.
    pub words: String,
    /// What is written inside, as far as there is room; empty for nothing.
    pub inside: String,
    /// Where it leads.
    pub href: Option<String>,
}

/// How a span is drawn. The kinds differ in form, not in colour alone.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    /// A pale block: it is there.
    Pale,
    /// Hatched: it is meant to be.
    Hatched,
    /// A full block: it is what counts.
    Solid,
    /// An outline: it is there and does not count.
    Outline,
}

impl Kind {
    const fn class(self) -> &'static str {
        match self {
            Self::Pale => "pale",
            Self::Hatched => "hatched",
            Self::Solid => "solid",
            Self::Outline => "outline",
        }
    }
}

impl Span {
    /// A span over `at` that says `words`.
    pub fn over(at: Stretch, kind: Kind, words: impl Into<String>) -> Self {
        Self {
            from_s: at.start().seconds(),
            to_s: at.end().seconds(),
            kind,
            words: words.into(),
            inside: String::new(),
            href: None,
        }
    }

    /// The same with `text` written inside.
    pub fn with_inside(self, text: impl Into<String>) -> Self {
        Self {
            inside: text.into(),
            ..self
        }
    }

    /// The same, leading to `href`.
    pub fn to(self, href: impl Into<String>) -> Self {
        Self {
            href: Some(href.into()),
            ..self
        }
    }
}

fn said(at: Stretch) -> String {
    format!("{}–{}", clock(at.start()), clock(at.end()))
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
            let span = Span::over(at, Kind::Pale, format!("{}: {}", said(at), idea.text))
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
                let words = format!("{}: {}", said(at), line.text);
                Some(Span::over(at, Kind::Outline, words).with_inside(&line.text))
            })
            .collect();
        Self::one("Lyrics", spans)
    }

    /// Where each setup is planned: a row each.
    pub fn planned(project: &Project, map: &SongMap) -> Self {
        let rows = project.setups.iter().map(|setup| Row {
            name: setup.called().to_owned(),
            spans: map
                .planned(setup)
                .into_iter()
                .map(|at| {
                    let words = format!("{}, planned over {}", setup.called(), in_bars(map, at));
                    Span::over(at, Kind::Hatched, words).to(format!("/change/setup/{}", setup.id))
                })
                .collect(),
        });
        Self::Rows(rows.collect())
    }

    /// Where each setup was shot: a row each, circled takes full, those that are no good in outline.
    pub fn shot(project: &Project, takes: &[PlacedTake]) -> Self {
        let mut rows: Vec<(Option<&model::SetupId>, Row)> = project
            .setups
            .iter()
            .map(|setup| {
                let row = Row {
                    name: setup.called().to_owned(),
                    spans: Vec::new(),
                };
                (Some(&setup.id), row)
            })
            .collect();
        if takes.iter().any(|take| take.setup.is_none()) {
            let row = Row {
                name: "no setup".into(),
                spans: Vec::new(),
            };
            rows.push((None, row));
        }
        // What counts lies over what does not.
        let mut order: Vec<&PlacedTake> = takes.iter().collect();
        order.sort_by_key(|take| match take.rating {
            Rating::NoGood => 0,
            Rating::Unrated | Rating::Usable => 1,
            Rating::Circled => 2,
        });
        for take in order {
            let Some((_, row)) = rows
                .iter_mut()
                .find(|(setup, _)| *setup == take.setup.as_ref())
            else {
                continue;
            };
            let (kind, rated) = match take.rating {
                Rating::NoGood => (Kind::Outline, "no good"),
                Rating::Unrated => (Kind::Pale, "not rated"),
                Rating::Usable => (Kind::Pale, "usable"),
                Rating::Circled => (Kind::Solid, "circled"),
            };
            for at in take.placement.runs.iter().filter_map(model::Run::on_song) {
                let words = format!("{}, {rated}: {}", take.id, said(at));
                row.spans
                    .push(Span::over(at, kind, words).to(format!("/change/take/{}", take.id)));
            }
        }
        Self::Rows(rows.into_iter().map(|(_, row)| row).collect())
    }

    /// The newest cut: full where a shot runs as it was sung, in outline where it was placed freely, hatched for black.
    pub fn cut(project: &Project) -> Self {
        let Some(cut) = project.newest_cut() else {
            return Self::None;
        };
        let spans: Vec<Span> = cut
            .shots
            .iter()
            .filter_map(|shot| {
                let at = |frame: i64| SongTime::from_ticks(cut.rate.ticks_of_frame(frame));
                let at = Stretch::new(at(shot.from_frame), at(shot.to_frame))?;
                let Some(take) = &shot.take else {
                    return Some(Span::over(
                        at,
                        Kind::Hatched,
                        format!("{}: black", said(at)),
                    ));
                };
                let setup = project
                    .takes
                    .iter()
                    .find(|known| known.id == *take)
                    .and_then(|known| known.setup.as_ref())
                    .and_then(|id| project.setups.iter().find(|setup| setup.id == *id));
                let shows = setup.map_or_else(
                    || format!("take {take}"),
                    |setup| format!("{}, take {take}", setup.called()),
                );
                let kind = if shot.in_sync {
                    Kind::Solid
                } else {
                    Kind::Outline
                };
                let locked = if shot.locked { ", locked" } else { "" };
                let free = if shot.in_sync { "" } else { ", placed freely" };
                Some(Span::over(
                    at,
                    kind,
                    format!("{}: {shows}{free}{locked}", said(at)),
                ))
            })
            .collect();
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

/// A stretch in the bars of which it holds at least half: `bars 1–16`; in times where there is none.
fn in_bars(map: &SongMap, at: Stretch) -> String {
    let half = |bar: &&model::Bar| {
        at.overlap(bar.at)
            .is_some_and(|both| both.length().ticks() * 2 >= bar.at.length().ticks())
    };
    let mut whole = map.bars.iter().filter(half);
    match (whole.next(), whole.next_back()) {
        (Some(first), Some(last)) => format!("bars {}–{}", first.number, last.number),
        (Some(only), None) => format!("bar {}", only.number),
        _ => said(at),
    }
}

/// Height of a row's drawing, pixels. The style knows it too.
const ROW: u32 = 22;

/// One row with its name before it.
pub fn draw(row: &Row, scale: Scale) -> Markup {
    html! {
        div.strip-name title=(row.name) { (row.name) }
        svg.strip-row width="100%" height=(ROW) role="group" aria-label=[(!row.name.is_empty()).then_some(&row.name)] {
            @for span in &row.spans {
                @if let Some(href) = &span.href {
                    a href=(href) aria-label=(span.words) { (block(span, scale)) }
                } @else {
                    (block(span, scale))
                }
            }
        }
    }
}

fn block(span: &Span, scale: Scale) -> Markup {
    let hatched = (span.kind == Kind::Hatched).then_some("url(#strip-hatch)");
    html! {
        svg class=(span.kind.class()) x=(scale.at(span.from_s)) width=(scale.width(span.from_s, span.to_s)) height=(ROW) {
            title { (span.words) }
            rect x="0.5" y="2.5" width="100%" height=(ROW - 5) fill=[hatched] {}
            @if let Some(class) = room(span, scale) { text class=[class] x="4" y="15" { (span.inside) } }
        }
    }
}

/// Whether there is room to write inside a span: always, or only on a wide page (with its class). A few letters
/// cut off say nothing, a good part of a sentence does.
fn room(span: &Span, scale: Scale) -> Option<Option<&'static str>> {
    let share = scale.share(span.to_s) - scale.share(span.from_s);
    // 6.6 px is the mean width of a 12 px letter.
    let needed = span.inside.chars().count().min(8) as f64 * 6.6 + 8.0;
    if span.inside.is_empty() {
        None
    } else if share * NARROW >= needed {
        Some(None)
    } else {
        (share * WIDE >= needed).then_some(Some("roomy"))
    }
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

/// Where a section lies, in words.
pub fn section_in_words(map: &SongMap, index: usize) -> String {
    let section = &map.sections[index];
    format!(
        "{}: {}, {}",
        words(map, index),
        in_bars(map, section.at),
        said(section.at)
    )
}

#[cfg(test)]
mod tests {
    use super::super::scale::tests::map;
    use super::*;
    use model::{Idea, NoteId, Setup, SetupId};

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
    fn what_is_planned_is_said_in_bars() {
        let map = map(16);
        let mut setup = Setup::new(SetupId::new("wide").expect("an id"));
        setup.bars = vec![[1, 4], [9, 9]];
        let project = Project {
            setups: vec![setup],
            ..Project::default()
        };
        let layer = Layer::planned(&project, &map);
        let said: Vec<&str> = layer.rows()[0]
            .spans
            .iter()
            .map(|span| span.words.as_str())
            .collect();
        assert_eq!(
            said,
            ["wide, planned over bars 1–4", "wide, planned over bar 9"]
        );
    }

    #[test]
    fn rows_are_drawn_in_percentages_with_their_words() {
        let row = Row {
            name: "Ideas".into(),
            spans: vec![
                Span::over(stretch(10.0, 20.0), Kind::Hatched, "<a> thought").to("/change/idea/a"),
            ],
        };
        let text = draw(&row, Scale::over(80.0)).into_string();
        assert!(text.contains(r#"x="12.5%" width="12.5%""#), "{text}");
        assert!(text.contains("<title>&lt;a&gt; thought</title>"), "{text}");
        assert!(text.contains(r#"href="/change/idea/a""#), "{text}");
        assert!(!text.contains("style="), "{text}");
    }

    #[test]
    fn layers_are_put_together() {
        let rows = Layer::Rows(vec![Row::default()]);
        assert_eq!(Layer::None.and(rows.clone()).rows().len(), 1);
        let both = rows.clone().with_bounds().and(rows);
        assert!(matches!(&both, Layer::Sections(rows) if rows.len() == 2));
    }
}
