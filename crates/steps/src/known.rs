//! What somebody named by its id, found in the document; or which was perhaps meant.

use crate::Error;
use model::{Cut, Day, Place, Project, Setup, Take};

/// How many of those that there are an answer lists.
const LISTED: usize = 12;

/// The setup called `id`.
///
/// # Errors
/// When there is none; the sentence says which was perhaps meant.
pub fn setup<'a>(project: &'a Project, id: &str) -> Result<&'a Setup, Error> {
    find("setup", &project.setups, id, |one| one.id.as_str())
}

/// The place called `id`.
///
/// # Errors
/// As [`setup`].
pub fn place<'a>(project: &'a Project, id: &str) -> Result<&'a Place, Error> {
    find("place", &project.places, id, |one| one.id.as_str())
}

/// The day called `id`.
///
/// # Errors
/// As [`setup`].
pub fn day<'a>(project: &'a Project, id: &str) -> Result<&'a Day, Error> {
    find("day", &project.days, id, |one| one.id.as_str())
}

/// The take called `id`.
///
/// # Errors
/// As [`setup`].
pub fn take<'a>(project: &'a Project, id: &str) -> Result<&'a Take, Error> {
    find("take", &project.takes, id, |one| one.id.as_str())
}

/// The version of the cut that is numbered so.
///
/// # Errors
/// When there is none.
pub fn version(project: &Project, version: u32) -> Result<&Cut, Error> {
    let mut cuts = project.cuts.iter();
    cuts.find(|cut| cut.version == version)
        .ok_or(Error::NoVersion(version))
}

fn find<'a, T>(
    noun: &'static str,
    all: &'a [T],
    id: &str,
    name: fn(&T) -> &str,
) -> Result<&'a T, Error> {
    all.iter()
        .find(|one| name(one) == id)
        .ok_or_else(|| Error::NoSuch {
            noun,
            id: id.to_owned(),
            instead: instead(id, &all.iter().map(name).collect::<Vec<_>>()),
        })
}

fn instead(id: &str, known: &[&str]) -> String {
    if let Some(near) = model::plan_file::nearest(id, known) {
        return format!("did you mean `{near}`?");
    }
    match known {
        [] => "there are none yet".into(),
        _ => {
            let more = if known.len() > LISTED { ", …" } else { "" };
            let listed = &known[..known.len().min(LISTED)];
            format!("there are {}{more}", listed.join(", "))
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use model::SetupId;

    #[test]
    fn a_mistyped_id_is_answered_with_the_nearest() {
        let mut project = Project::default();
        let says = |project: &Project, id: &str| setup(project, id).unwrap_err().to_string();
        assert_eq!(
            says(&project, "wide"),
            "there is no setup `wide` in this project; there are none yet"
        );
        for id in ["stairs", "wash-wide", "powder"] {
            project.setups.push(Setup::new(SetupId::new(id).unwrap()));
        }
        assert_eq!(setup(&project, "powder").unwrap().id.as_str(), "powder");
        assert_eq!(
            says(&project, "stair"),
            "there is no setup `stair` in this project; did you mean `stairs`?"
        );
        assert_eq!(
            says(&project, "quay"),
            "there is no setup `quay` in this project; there are stairs, wash-wide, powder"
        );
        for nth in 0..12 {
            let id = SetupId::new(format!("x{nth}")).unwrap();
            project.setups.push(Setup::new(id));
        }
        assert!(says(&project, "quay").ends_with("x7, x8, …"));
    }
}
