//! Charts for the pages: what the steps report, as the views that `charts` draws. Pure functions; nothing here is
//! computed anew, and nothing is read.

mod coverage;
mod day;
mod power;
mod sky;
mod stops;
mod takes;

pub use self::coverage::coverage;
pub use self::day::{day_line, lights};
pub use self::power::power;
pub use self::sky::sky;
pub use self::stops::stops;
pub use self::takes::takes;

use charts::{Chart, Span};
use maud::{Markup, PreEscaped};
use model::{ClockTime, Project, SetupId};

/// `chart` as a figure of a page; `id` begins every id in it.
pub fn figure(chart: &dyn Chart, id: &str) -> Markup {
    let letters = |c: char| c.is_ascii_alphanumeric() || c == '-';
    let id: String = id
        .chars()
        .map(|c| if letters(c) { c } else { '-' })
        .collect();
    PreEscaped(charts::figure(chart, &id))
}

/// A date as it is read in English text, `20 November 2026`; as it is where it is none.
pub fn date(text: &str) -> String {
    const MONTHS: [&str; 12] = [
        "January",
        "February",
        "March",
        "April",
        "May",
        "June",
        "July",
        "August",
        "September",
        "October",
        "November",
        "December",
    ];
    let mut parts = text.splitn(3, '-').map(str::parse::<usize>);
    match (parts.next(), parts.next(), parts.next()) {
        (Some(Ok(year)), Some(Ok(month @ 1..=12)), Some(Ok(day))) => {
            format!("{day} {} {year}", MONTHS[month - 1])
        }
        _ => text.to_owned(),
    }
}

fn minutes(at: ClockTime) -> f64 {
    f64::from(at.minutes())
}

fn span([from, to]: [ClockTime; 2]) -> Span {
    Span::new(minutes(from), minutes(to))
}

fn called(project: &Project, id: &SetupId) -> String {
    project
        .setup(id)
        .map_or_else(|| id.to_string(), |setup| setup.called().to_owned())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn dates_are_written_out() {
        assert_eq!(date("2026-11-20"), "20 November 2026");
        assert_eq!(date("2026-13-01"), "2026-13-01");
        assert_eq!(date("soon"), "soon");
    }
}
