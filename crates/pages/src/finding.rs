//! Findings as a page draws them.

use crate::text;
use maud::{Markup, html};
use model::{About, Finding, Project, Severity};

/// Findings one under the other, each with what helps; nothing where there are none.
pub fn list<'a>(project: &Project, findings: impl IntoIterator<Item = &'a Finding>) -> Markup {
    let all: Vec<&Finding> = findings.into_iter().collect();
    html! {
        @if !all.is_empty() { ul.findings { @for one in all { li { (one_line(project, one)) } } } }
    }
}

/// One finding: how grave it is, its sentence, what helps. One thing that helps stands with the sentence.
pub fn one_line(project: &Project, finding: &Finding) -> Markup {
    let class = match finding.severity {
        Severity::Problem => Some("bad"),
        Severity::Unknown | Severity::Warning => Some("warn"),
        Severity::Note => None,
    };
    let together = finding.to_string();
    html! {
        @if class.is_some() { span class=[class] { span aria-hidden="true" { "▲ " } span.unseen { (finding.severity.word()) ": " } } }
        @if let [_, _, ..] = finding.mends.as_slice() {
            (said(project, finding, &finding.says))
            ul { @for how in &finding.mends { li { (said(project, finding, how)) } } }
        } @else { (said(project, finding, &together)) }
    }
}

/// A sentence of `finding`, in which the nouns it is about lead to themselves.
pub fn said(project: &Project, finding: &Finding, sentence: &str) -> Markup {
    let nouns: Vec<_> = finding
        .about
        .iter()
        .filter_map(|noun| Some((noun, named(project, noun)?)))
        .collect();
    text::said_with(sentence, &|part| {
        let (noun, name) = nouns
            .iter()
            .find(|(noun, name)| part == name || part == id(noun))?;
        let word = match noun {
            About::Setup(_) => "setup",
            About::Place(_) => "place",
            About::Day(_) => "day",
            About::Item(_) => "kit",
            About::Take(_) => "take",
        };
        Some(html! { a href=(format!("/change/{word}/{}", id(noun))) { (name) } })
    })
}

fn id(noun: &About) -> &str {
    match noun {
        About::Setup(id) => id.as_str(),
        About::Place(id) => id.as_str(),
        About::Day(id) => id.as_str(),
        About::Item(id) => id.as_str(),
        About::Take(id) => id.as_str(),
    }
}

/// What a noun of the document is called; none for one that is not there.
fn named(project: &Project, noun: &About) -> Option<String> {
    match noun {
        About::Setup(id) => project.setup(id).map(|setup| setup.called().to_owned()),
        About::Place(id) => project.place(id).map(|place| place.name.clone()),
        About::Day(id) => {
            let day = project.days.iter().find(|day| day.id == *id);
            day.map(|day| day.date.to_string())
        }
        About::Item(id) => project.item(id).map(|item| item.called().to_owned()),
        About::Take(id) => {
            let take = project.takes.iter().find(|take| take.id == *id);
            take.map(|take| take.id.to_string())
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_noun_that_is_there_leads_to_itself() {
        let kit = serde_json::from_str(r#"[{"id": "panel", "name": "Panel <1>"}]"#).unwrap();
        let project = Project {
            kit,
            ..Project::default()
        };
        let [panel, gone] = ["panel", "gone"].map(|id| model::KitId::new(id).unwrap());
        let found = Finding::problem("x", "`panel` is fed from `gone`, by `hand`")
            .about_all([&panel, &gone])
            .mended_by("one")
            .mended_by("another");
        let drawn = one_line(&project, &found).into_string();
        assert!(
            drawn.contains(r#"<a href="/change/kit/panel">Panel &lt;1&gt;</a> is fed from <code>gone</code>, by <code>hand</code>."#),
            "{drawn}"
        );
        assert!(drawn.contains("does not work out: "), "{drawn}");
        assert!(
            drawn.contains("<ul><li>One.</li><li>Another.</li></ul>"),
            "{drawn}"
        );
    }
}
