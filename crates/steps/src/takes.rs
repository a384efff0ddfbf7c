//! Takes brought in from a card's folder: which files, what they are called, which setup they say they are from.

use crate::gather::probed;
use crate::{Error, Job, Progress, Trouble, files};
use model::{Edit, Project, Setup, SetupId, Take, TakeId};
use std::path::{Path, PathBuf};

/// What bringing in takes came to.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Brought {
    /// The new takes.
    pub added: Vec<TakeId>,
    /// How many were there already, by content.
    pub known: usize,
    /// Files that can't be used.
    pub trouble: Vec<Trouble>,
}

/// The edit that says which setup takes are of; their passes are counted on from those it has, in their order.
/// Those that are of it already stay as they are; `None` where all are.
pub fn assign(project: &Project, takes: &[&Take], setup: Option<&SetupId>) -> Option<Edit> {
    let of_it = project
        .takes
        .iter()
        .filter(|take| take.setup.as_ref() == setup);
    let last = of_it.filter_map(|take| take.pass).max().unwrap_or(0);
    let other = takes.iter().filter(|take| take.setup.as_ref() != setup);
    let mut edits: Vec<Edit> = other
        .zip(last + 1..)
        .map(|(take, pass)| Edit::AssignTake {
            id: take.id.clone(),
            setup: setup.cloned(),
            pass: setup.map(|_| pass),
        })
        .collect();
    match edits.len() {
        0 | 1 => edits.pop(),
        many => Some(Edit::Together {
            what: format!("{many} takes to their setup"),
            edits,
        }),
    }
}

impl Job {
    /// Brings in files, and whole folders of them. Known content is not brought in twice; a file
    /// that can't be used is left out with a sentence. Media stays where it lies.
    ///
    /// # Errors
    /// When a folder can't be read or the document can't be saved.
    pub fn bring_in(
        &mut self,
        paths: &[PathBuf],
        progress: &dyn Progress,
    ) -> Result<Brought, Error> {
        let found = files::expand(paths)?;
        progress.stage("bringing in takes", found.len());
        let mut brought = Brought::default();
        let mut fresh: Vec<Take> = Vec::new();
        for path in found {
            Self::stop_if_asked(progress)?;
            match self.one_take(&path, progress) {
                Ok(take) => {
                    let same = |known: &Take| {
                        known.file.hash == take.file.hash && known.file.bytes == take.file.bytes
                    };
                    if let Some(known) = self.project().takes.iter().find(|known| same(known)) {
                        brought.known += 1;
                        // Its file was moved; this is where it is now.
                        if !self.folder.resolve(&known.file).is_file() {
                            self.edit(&Edit::MoveFile {
                                hash: take.file.hash.clone(),
                                path: take.file.path.clone(),
                            })?;
                        }
                    } else if fresh.iter().any(same) {
                        brought.known += 1;
                    } else {
                        fresh.push(take);
                    }
                }
                Err(error) if error.is_stop() => return Err(Error::Stopped),
                Err(error) => brought.trouble.push(Trouble {
                    file: path.display().to_string(),
                    says: error.to_string(),
                }),
            }
            progress.part(&name_of(&path));
        }
        if !fresh.is_empty() {
            let before: Vec<TakeId> = self
                .project()
                .takes
                .iter()
                .map(|take| take.id.clone())
                .collect();
            self.edit(&Edit::AddTakes { takes: fresh })?;
            brought.added = self
                .project()
                .takes
                .iter()
                .map(|take| take.id.clone())
                .filter(|id| !before.contains(id))
                .collect();
        }
        Ok(brought)
    }

    fn one_take(&self, path: &Path, progress: &dyn Progress) -> Result<Take, Error> {
        let file = self.media_file(path, progress)?;
        probed(&self.cache, &self.tools, &file.hash, path, progress)?;
        let (setup, pass) = setup_from_name(self.project(), path);
        Ok(Take {
            id: id_from_name(path),
            file,
            setup,
            pass,
            rating: Default::default(),
            state: None,
            placed_by_hand: None,
            remark: String::new(),
            extra: Default::default(),
        })
    }
}

fn name_of(path: &Path) -> String {
    path.file_name()
        .unwrap_or_default()
        .to_string_lossy()
        .into_owned()
}

/// A take's id from its file's name: the stem, with what an id can't hold replaced.
fn id_from_name(path: &Path) -> TakeId {
    let stem = path.file_stem().unwrap_or_default().to_string_lossy();
    let clean: String = stem
        .chars()
        .map(|c| {
            if c.is_alphanumeric() || matches!(c, '-' | '_' | '.') {
                c
            } else {
                '-'
            }
        })
        .take(48)
        .collect();
    TakeId::new(clean)
        .or_else(|_| TakeId::new("take"))
        .expect("a plain word is an id")
}

/// The setup and pass that a file's folder or name says: `takes/wide/…`, `wide-2.mp4`, `wide_p3_x.mov`.
/// The longest setup id that fits is taken.
fn setup_from_name(project: &Project, path: &Path) -> (Option<SetupId>, Option<u32>) {
    let stem = path
        .file_stem()
        .unwrap_or_default()
        .to_string_lossy()
        .to_lowercase();
    let folder = path
        .parent()
        .and_then(Path::file_name)
        .unwrap_or_default()
        .to_string_lossy()
        .to_lowercase();
    let rest = |setup: &Setup| -> Option<String> {
        let id = setup.id.as_str().to_lowercase();
        let after = stem.strip_prefix(&id)?;
        (after.is_empty() || after.starts_with(['-', '_', '.', ' '])).then(|| after.to_owned())
    };
    let by_name = project
        .setups
        .iter()
        .filter_map(|setup| Some((setup, rest(setup)?)))
        .max_by_key(|(setup, _)| setup.id.as_str().len());
    let number = |text: &str| -> Option<u32> {
        let part = text
            .split(['-', '_', '.', ' '])
            .find(|part| !part.is_empty())?;
        part.trim_start_matches(['p', 't'])
            .parse()
            .ok()
            .filter(|pass| *pass > 0)
    };
    match by_name {
        Some((setup, rest)) => (Some(setup.id.clone()), number(&rest)),
        None => (
            project
                .setups
                .iter()
                .find(|setup| setup.id.as_str().to_lowercase() == folder)
                .map(|setup| setup.id.clone()),
            None,
        ),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn setups_are_read_from_names_and_folders() {
        let project: Project =
            serde_json::from_str(r#"{"format":1,"setups":[{"id":"wide"},{"id":"wide-stair"}]}"#)
                .unwrap();
        let read = |path: &str| {
            let (setup, pass) = setup_from_name(&project, Path::new(path));
            (
                setup.map(|setup| setup.to_string()).unwrap_or_default(),
                pass.unwrap_or(0),
            )
        };
        assert_eq!(read("card/wide-2.mp4"), ("wide".into(), 2));
        assert_eq!(read("card/wide-stair_p3.mp4"), ("wide-stair".into(), 3));
        assert_eq!(read("card/WIDE.MP4"), ("wide".into(), 0));
        assert_eq!(read("card/wider-1.mp4"), (String::new(), 0));
        assert_eq!(read("wide/C0001.mp4"), ("wide".into(), 0));
    }

    #[test]
    fn passes_are_counted_on_from_those_a_setup_has() {
        let take = |id: &str, more: serde_json::Value| {
            let mut take = serde_json::json!({"id": id, "file": {"path": id, "hash": "0".repeat(32), "bytes": 1}});
            take.as_object_mut()
                .unwrap()
                .extend(more.as_object().unwrap().clone());
            take
        };
        let project: Project = serde_json::from_value(serde_json::json!({
            "format": 2,
            "setups": [{"id": "wide"}, {"id": "close"}],
            "takes": [
                take("a", serde_json::json!({"setup": "wide", "pass": 3})),
                take("b", serde_json::json!({})),
                take("c", serde_json::json!({"setup": "close", "pass": 1})),
            ],
        }))
        .unwrap();
        let wide = SetupId::new("wide").unwrap();
        let all: Vec<&Take> = project.takes.iter().collect();
        let passes = |edit: Option<Edit>| -> Vec<Option<u32>> {
            let after = edit.unwrap().apply(&project).unwrap();
            after.takes.iter().map(|take| take.pass).collect()
        };
        assert_eq!(
            passes(assign(&project, &all, Some(&wide))),
            [Some(3), Some(4), Some(5)]
        );
        assert_eq!(passes(assign(&project, &all, None)), [None, None, None]);
        assert_eq!(assign(&project, &all[..1], Some(&wide)), None);
    }

    #[test]
    fn any_file_name_gives_an_id() {
        for name in [
            "a b.mp4",
            "é🎬.mov",
            ".mp4",
            "",
            &"x".repeat(255),
            "'\"; rm",
        ] {
            assert!(!id_from_name(Path::new(name)).as_str().is_empty());
        }
    }
}
