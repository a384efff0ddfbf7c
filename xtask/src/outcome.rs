//! What a step of `cargo xtask test` came to, as counts and sentences.

use crate::run::{self, Ended};

/// What a step came to.
#[derive(Default)]
pub struct Outcome {
    /// How many things passed.
    pub passed: usize,
    /// How many failed.
    pub failed: usize,
    /// What is wrong, one sentence each.
    pub problems: Vec<String>,
}

impl Outcome {
    /// A step that looks for problems: one thing passed, or each problem one that failed.
    pub fn of_problems(problems: Vec<String>) -> Outcome {
        Outcome {
            passed: usize::from(problems.is_empty()),
            failed: problems.len(),
            problems,
        }
    }

    /// A program that counts nothing, as one thing.
    pub fn of_program(ended: &Ended) -> Outcome {
        let problem = (!ended.good).then(|| ended.how.clone());
        Outcome::of_problems(problem.into_iter().collect())
    }

    /// A test runner by its own counts. One that counts nothing has failed, whatever it ended with;
    /// one that fails although all it counted passed counts as one failure more.
    pub fn of_tests(ended: &Ended) -> Outcome {
        let (passed, mut failed) = run::counts(&ended.output).unwrap_or_default();
        let mut problems = Vec::new();
        if !ended.good {
            problems.push(ended.how.clone());
        } else if failed > 0 {
            problems.push("it counted failures but ended well".to_owned());
        } else if passed == 0 {
            problems.push("it ran no test".to_owned());
        }
        if !problems.is_empty() {
            failed = failed.max(1);
        }
        Outcome {
            passed,
            failed,
            problems,
        }
    }

    /// A check, as one thing: some compare tens of thousands of values, which would drown every
    /// other count. It must say how many it compared.
    pub fn of_check(ended: &Ended) -> Outcome {
        let problem = match run::counts(&ended.output) {
            Some((_, failed)) if failed > 0 => {
                Some(format!("{failed} comparisons failed; they stand above"))
            }
            _ if !ended.good => Some(ended.how.clone()),
            None => Some("it printed no line `N passed, N failed`".to_owned()),
            Some((0, _)) => Some("it compared nothing".to_owned()),
            Some(_) => None,
        };
        Outcome::of_problems(problem.into_iter().collect())
    }
}

#[cfg(test)]
mod tests {
    use std::time::Duration;

    use super::*;

    fn ended(good: bool, output: &str) -> Ended {
        Ended {
            good,
            how: "exit status: 1".to_owned(),
            output: output.to_owned(),
            took: Duration::ZERO,
        }
    }

    #[test]
    fn tests_count_as_their_runner_counts_and_none_is_a_failure() {
        let cases = [
            (true, "3 passed, 0 failed", (3, 0)),
            (false, "3 passed, 2 failed", (3, 2)),
            (false, "3 passed, 0 failed", (3, 1)),
            (true, "3 passed, 2 failed", (3, 2)),
            (
                true,
                "test result: ok. 0 passed; 0 failed; 4 ignored",
                (0, 1),
            ),
            (true, "no count", (0, 1)),
            (false, "no count", (0, 1)),
        ];
        for (good, output, want) in cases {
            let outcome = Outcome::of_tests(&ended(good, output));
            assert_eq!((outcome.passed, outcome.failed), want, "{good} {output}");
            assert_eq!(outcome.problems.is_empty(), want.1 == 0, "{good} {output}");
        }
    }

    #[test]
    fn a_program_is_one_thing() {
        for (good, want) in [(true, (1, 0)), (false, (0, 1))] {
            let outcome = Outcome::of_program(&ended(good, "2 passed, 0 failed"));
            assert_eq!((outcome.passed, outcome.failed), want);
        }
    }

    #[test]
    fn a_check_counts_as_one_and_must_count() {
        let cases = [
            (true, "71402 passed, 0 failed", (1, 0)),
            (false, "71400 passed, 2 failed", (0, 1)),
            (true, "71400 passed, 2 failed", (0, 1)),
            (false, "71400 passed, 0 failed", (0, 1)),
            (true, "0 passed, 0 failed", (0, 1)),
            (true, "reach met", (0, 1)),
            (false, "below the reach", (0, 1)),
        ];
        for (good, output, want) in cases {
            let outcome = Outcome::of_check(&ended(good, output));
            assert_eq!((outcome.passed, outcome.failed), want, "{good} {output}");
        }
    }

    #[test]
    fn each_problem_is_one_failure() {
        let outcome = Outcome::of_problems(vec!["a".to_owned(), "b".to_owned()]);
        assert_eq!((outcome.passed, outcome.failed), (0, 2));
        assert_eq!(Outcome::of_problems(Vec::new()).passed, 1);
    }
}
