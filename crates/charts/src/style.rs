//! The one style sheet of everything drawn: the colours of both dresses, the charts, the song strip.

/// The colours, as custom properties: by day, and on set.
const DRESSES: &str = include_str!("../assets/dress.css");
/// The song strip.
pub(crate) const STRIP: &str = include_str!("../assets/song-strip.css");

/// All of it.
pub fn stylesheet() -> String {
    [DRESSES, include_str!("../assets/charts.css"), STRIP].concat()
}

/// `css` with every property of the dress by day in its place.
pub(crate) fn by_day(css: &str) -> String {
    let day = DRESSES.split('}').next().unwrap_or_default();
    let properties = day.lines().filter_map(|line| {
        let (name, value) = line.trim().strip_suffix(';')?.split_once(": ")?;
        name.starts_with("--").then_some((name, value))
    });
    properties.fold(css.to_owned(), |css, (name, value)| {
        css.replace(&format!("var({name})"), value)
    })
}
