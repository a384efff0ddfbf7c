//! Lyrics: the words a line each, and when each line is sung: tapped while the song plays, or typed.

use super::view::{Called, Meant, View, song_of};
use crate::app::App;
use crate::form::Faults;
use crate::page::noun::seen_at;
use crate::posted::{Posted, PostedJson};
use crate::refusal::Refused;
use axum::Json;
use axum::extract::State;
use charts::song::song_clock as clock;
use maud::{Markup, html};
use model::{Edit, LyricLine, SongTime, Stretch};
use serde::Deserialize;
use serde_json::{Value, json};
use std::collections::BTreeMap;
use std::sync::Arc;
use store::RevisionId;

const WORDS: &str = "lyrics";
const TIMES: &str = "times";

/// The most lines a song takes from one form.
const MOST_LINES: usize = 2000;

/// The lyrics with their forms.
pub fn draw(view: &View<'_>) -> Markup {
    let (lyrics, back) = (&view.song.lyrics, view.back);
    let all: Vec<&str> = lyrics.iter().map(|line| line.text.as_str()).collect();
    let timed = lyrics.iter().filter(|line| line.at.is_some()).count();
    let words_back = back.form == WORDS;
    let times_back = back.form == TIMES;
    html! {
        section aria-labelledby="lyrics-title" {
            h2 #lyrics-title { "Lyrics" }
            @if lyrics.is_empty() {
                p.faint { "Paste them, a line each. They become captions, and show where the performer sings." }
            } @else {
                p { (lyrics.len()) @if lyrics.len() == 1 { " line" } @else { " lines" } ", " (timed) " with " @if timed == 1 { "its time." } @else { "their times." } }
                (timing(view))
                details.more open[times_back] data-fold="times-of-the-lines" {
                    summary { "Lines and their times" }
                    form method="post" action="/song/lyrics/times" data-guarded="" {
                        (view.carried())
                        (back.summary(TIMES, |name| name.starts_with("at.")))
                        ol.lines {
                            @for (index, line) in lyrics.iter().enumerate() {
                                li {
                                    span.words { (line.text) }
                                    div.field {
                                        (back.input(TIMES, &format!("at.{index}"), line.at.map_or_else(String::new, written), &Called::unseen(&format!("When line {} is sung: {}", index + 1, line.text))))
                                    }
                                    @if let Some(at) = line.at { (play_from(at.start(), &line.text)) }
                                }
                            }
                        }
                        p.faint { "From and to, such as 0:12.5–0:15. Empty: not known." }
                        div.actions { button { "Save the times" } }
                    }
                }
            }
            details.more open[words_back || lyrics.is_empty()] data-fold="the-words" {
                summary { "The words" }
                form method="post" action="/song/lyrics" data-guarded="" {
                    (view.carried())
                    (back.summary(WORDS, |_| false))
                    div.field {
                        label for="lyrics--words" { "A line each" }
                        textarea #lyrics--words name="words" rows="10" { (back.value(WORDS, "words", all.join("\n"))) }
                        small.hint { "A line that stays as it is keeps its time." }
                    }
                    div.actions { button { "Save the words" } }
                }
            }
        }
    }
}

/// A button that plays from a moment.
pub fn play_from(at: SongTime, what: &str) -> Markup {
    html! {
    button.quiet.small.needs-script type="button" data-play-from=(format!("{:.6}", at.seconds())) {
                span.unseen { "Play from " }
                svg viewBox="0 0 12 12" width="11" height="11" aria-hidden="true" { path d="M2 0l10 6l-10 6z" {} }
                " " (clock(at))
                span.unseen { ": " (what) }
            }
        }
}

/// Timing by tapping: the lines with their times for the script, which shows one at a time, large.
fn timing(view: &View<'_>) -> Markup {
    let lines: Vec<Value> = view
        .song
        .lyrics
        .iter()
        .map(|line| {
            let at = line.at.map(|at| [at.start().seconds(), at.end().seconds()]);
            json!({ "text": line.text, "at": at })
        })
        .collect();
    html! {
        time-lines.time-lines.needs-script data-lines=(json!(lines)) data-revision=(view.head.revision) {
            button type="button" data-does="begin" { "Time the lines" }
            div.timing hidden data-part="timing" {
                p.faint data-part="count" {}
                p.line data-part="line" aria-live="assertive" {}
                p.faint data-part="next" {}
                button.big type="button" data-does="mark" { "It starts now" }
                div.row {
                    button.quiet type="button" data-does="end" { "It ends now" }
                    button.quiet type="button" data-does="undo" { "Take the last one back" }
                    button type="button" data-does="save" { "Save the times" }
                    button.quiet type="button" data-does="leave" { "Leave it" }
                }
            }
        }
    }
}

fn written(at: Stretch) -> String {
    at.to_string()
}

fn read_time(text: &str) -> Result<Stretch, String> {
    let how = "write from and to, such as 0:12.5–0:15";
    let (from, to) = ["–", "—", " to ", "-"]
        .iter()
        .find_map(|dash| text.split_once(dash))
        .ok_or_else(|| format!("`{text}` has no end; {how}"))?;
    let time = |text: &str| text.trim().replace(',', ".").parse::<SongTime>();
    Stretch::new(time(from)?, time(to)?)
        .ok_or_else(|| format!("`{text}` does not end after it starts; {how}"))
}

fn plain(text: &str) -> Vec<&str> {
    text.lines()
        .map(str::trim)
        .filter(|line| !line.is_empty())
        .collect()
}

/// The lyrics of these words: lines that are as they were keep their times, and so does a line that was
/// put right in its place.
fn with_words(was: &[LyricLine], words: &str) -> Vec<LyricLine> {
    let new = plain(words);
    let old: Vec<&str> = was.iter().map(|line| line.text.trim()).collect();
    let mut out: Vec<LyricLine> = new
        .iter()
        .map(|text| LyricLine {
            at: None,
            text: (*text).to_owned(),
            extra: Default::default(),
        })
        .collect();
    let mut pairs = common(&old, &new);
    pairs.push((old.len(), new.len()));
    let (mut from_old, mut from_new) = (0, 0);
    for (next_old, next_new) in pairs {
        // Between lines that stayed, as many as before were put right one by one.
        if next_old - from_old == next_new - from_new {
            for (old, new) in (from_old..next_old).zip(from_new..next_new) {
                out[new].at = was[old].at;
                out[new].extra.clone_from(&was[old].extra);
            }
        }
        if let (Some(line), Some(known)) = (out.get_mut(next_new), was.get(next_old)) {
            *line = known.clone();
        }
        (from_old, from_new) = (next_old + 1, next_new + 1);
    }
    out
}

/// The longest run of lines that both have in the same order, as pairs of places (longest common subsequence).
fn common(a: &[&str], b: &[&str]) -> Vec<(usize, usize)> {
    if a.len().saturating_mul(b.len()) > MOST_LINES * MOST_LINES {
        // More than any song has: what begins alike stays alike.
        let alike = a.iter().zip(b).take_while(|(a, b)| a == b).count();
        return (0..alike).map(|nth| (nth, nth)).collect();
    }
    let wide = b.len() + 1;
    // Lengths of what the rests have in common.
    let mut best = vec![0_u32; (a.len() + 1) * wide];
    for i in (0..a.len()).rev() {
        for j in (0..b.len()).rev() {
            best[i * wide + j] = if a[i] == b[j] {
                best[(i + 1) * wide + j + 1] + 1
            } else {
                best[(i + 1) * wide + j].max(best[i * wide + j + 1])
            };
        }
    }
    let (mut i, mut j, mut out) = (0, 0, Vec::new());
    while i < a.len() && j < b.len() {
        if a[i] == b[j] {
            out.push((i, j));
            (i, j) = (i + 1, j + 1);
        } else if best[(i + 1) * wide + j] >= best[i * wide + j + 1] {
            i += 1;
        } else {
            j += 1;
        }
    }
    out
}

/// The lyrics with the times that were typed; one that was not touched stays exact.
fn with_times(
    was: &[LyricLine],
    fields: &BTreeMap<String, Vec<String>>,
) -> Result<Vec<LyricLine>, Faults> {
    let mut faults = Faults::default();
    let mut out = was.to_vec();
    for (index, line) in out.iter_mut().enumerate() {
        let name = format!("at.{index}");
        let Some(typed) = fields.get(&name).and_then(|values| values.last()) else {
            continue;
        };
        let typed = typed.trim();
        if typed == line.at.map_or_else(String::new, written) {
            continue;
        }
        if typed.is_empty() {
            line.at = None;
            continue;
        }
        match read_time(typed) {
            Ok(at) if at.start() < SongTime::ZERO => faults.merge(Faults::one(
                name,
                "a line can't be sung before the song starts",
            )),
            Ok(at) => line.at = Some(at),
            Err(says) => faults.merge(Faults::one(name, says)),
        }
    }
    if faults.has_any() {
        Err(faults)
    } else {
        Ok(out)
    }
}

fn edit(was: &[LyricLine], lyrics: Vec<LyricLine>) -> Option<Edit> {
    (lyrics != was).then(|| Edit::SetLyrics {
        lyrics,
        was: Some(was.to_vec()),
    })
}

/// The words of the song as a form has them.
///
/// # Errors
/// When there is no song.
pub fn save_words(app: &App, posted: &Posted) -> Result<Meant, Refused> {
    let seen = seen_at(app, posted)?;
    let was = &song_of(&seen)?.lyrics;
    let words = posted.text("words");
    let meant = if plain(words).len() > MOST_LINES {
        Err(Faults::one(
            "",
            format!("these are more than {MOST_LINES} lines; leave some out"),
        ))
    } else {
        Ok(edit(was, with_words(was, words)))
    };
    Ok((WORDS, meant))
}

/// The times of the lines as a form has them.
///
/// # Errors
/// When there is no song.
pub fn save_times(app: &App, posted: &Posted) -> Result<Meant, Refused> {
    let seen = seen_at(app, posted)?;
    let was = &song_of(&seen)?.lyrics;
    let meant = with_times(was, &posted.fields).map(|lyrics| edit(was, lyrics));
    Ok((TIMES, meant))
}

/// Times that were tapped: by the place of the line, from and to, seconds.
#[derive(Deserialize)]
pub struct Tapped {
    revision: i64,
    times: BTreeMap<usize, [f64; 2]>,
}

fn with_tapped(
    was: &[LyricLine],
    times: &BTreeMap<usize, [f64; 2]>,
) -> Result<Vec<LyricLine>, String> {
    let mut out = was.to_vec();
    for (index, [from, to]) in times {
        let line = out
            .get_mut(*index)
            .ok_or_else(|| format!("there is no line {}; load the page again", index + 1))?;
        let at = Stretch::between_seconds(from.max(0.0), *to);
        line.at = Some(at.ok_or_else(|| {
            format!(
                "line {} would end before it starts; time it again",
                index + 1
            )
        })?);
    }
    Ok(out)
}

/// Times the lines as they were tapped.
///
/// # Errors
/// When a line is not there or would end before it starts.
pub async fn tapped(
    State(app): State<Arc<App>>,
    posted: PostedJson<Tapped>,
) -> Result<Json<Value>, Refused> {
    let seen = app.at(RevisionId::new(posted.value.revision))?;
    let was = &song_of(&seen)?.lyrics;
    let lyrics = with_tapped(was, &posted.value.times).map_err(Refused::Unreadable)?;
    let revision = match edit(was, lyrics) {
        Some(edit) => app.edit(&edit)?,
        None => app.revision()?,
    };
    Ok(Json(json!({ "revision": revision.number() })))
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn line(text: &str, from_s: f64) -> LyricLine {
        LyricLine {
            at: Stretch::between_seconds(from_s, from_s + 1.0),
            text: text.into(),
            extra: Default::default(),
        }
    }

    fn times(lyrics: &[LyricLine]) -> Vec<Option<f64>> {
        lyrics
            .iter()
            .map(|line| line.at.map(|at| at.start().seconds()))
            .collect()
    }

    #[test]
    fn lines_that_stay_keep_their_times() {
        let was = [
            line("a", 1.0),
            line("b", 2.0),
            line("a", 3.0),
            line("c", 4.0),
        ];
        let put_in = with_words(&was, "new\na\nb\n\n  a \nc");
        assert_eq!(
            times(&put_in),
            [None, Some(1.0), Some(2.0), Some(3.0), Some(4.0)]
        );
        let put_right = with_words(&was, "a\nbee\na\nc");
        assert_eq!(
            times(&put_right),
            [Some(1.0), Some(2.0), Some(3.0), Some(4.0)]
        );
        let taken_out = with_words(&was, "a\na\nc");
        assert_eq!(times(&taken_out), [Some(1.0), Some(3.0), Some(4.0)]);
        assert!(with_words(&was, " \n ").is_empty());
    }

    #[test]
    fn times_are_read_beside_their_fields() {
        let was = [line("a", 1.0), line("b", 2.0)];
        let fields = |text: &str| BTreeMap::from([("at.1".to_owned(), vec![text.to_owned()])]);
        let read = with_times(&was, &fields("0:05,5 – 0:06")).expect("read");
        assert_eq!(times(&read), [Some(1.0), Some(5.5)]);
        assert_eq!(
            times(&with_times(&was, &fields("")).expect("read")),
            [Some(1.0), None]
        );
        for wrong in ["soon", "0:06–0:05", "0:06", "-0:02–0:01"] {
            let faults = with_times(&was, &fields(wrong)).expect_err("refused");
            assert!(faults.at("at.1").is_some(), "{wrong}");
        }
    }

    #[test]
    fn tapped_times_are_kept_or_refused_whole() {
        let was = [line("a", 1.0), line("b", 2.0)];
        let tapped = |index, from, to| with_tapped(&was, &BTreeMap::from([(index, [from, to])]));
        assert_eq!(
            times(&tapped(1, 7.0, 8.0).expect("kept")),
            [Some(1.0), Some(7.0)]
        );
        assert!(tapped(2, 7.0, 8.0).is_err());
        assert!(tapped(0, 8.0, 7.0).is_err());
        assert!(tapped(0, f64::NAN, f64::NAN).is_err());
    }

    proptest! {
        #[test]
        fn sent_back_untouched_nothing_changes(lines in proptest::collection::vec(("[a-c]{1,2}", proptest::option::of(0i64..1_000_000_000_000)), 0..12)) {
            let was: Vec<LyricLine> = lines.iter().map(|(text, at)| LyricLine {
                at: at.and_then(|ticks| Stretch::new(SongTime::from_ticks(ticks), SongTime::from_ticks(ticks + 500_000_001))),
                text: text.clone(),
                extra: Default::default(),
            }).collect();
            let words: Vec<&str> = was.iter().map(|line| line.text.as_str()).collect();
            prop_assert_eq!(&with_words(&was, &words.join("\r\n")), &was);
            let fields = was.iter().enumerate().map(|(index, line)| (format!("at.{index}"), vec![line.at.map_or_else(String::new, written)])).collect();
            prop_assert_eq!(&with_times(&was, &fields).expect("read"), &was);
        }

        #[test]
        fn every_word_typed_is_kept(words in "[a-c \n]{0,60}", old in "[a-c \n]{0,60}") {
            let was: Vec<LyricLine> = plain(&old).iter().enumerate().map(|(nth, text)| line(text, nth as f64)).collect();
            let made = with_words(&was, &words);
            let texts: Vec<&str> = made.iter().map(|line| line.text.as_str()).collect();
            prop_assert_eq!(texts, plain(&words));
            // Times still rise.
            let known: Vec<f64> = times(&made).into_iter().flatten().collect();
            prop_assert!(known.is_sorted());
        }
    }
}
