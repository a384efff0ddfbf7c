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

    /// A program: its own counts where it tells them, else itself as one thing. One that fails
    /// although all it counted passed counts as one failure more.
    pub fn of_ended(ended: &Ended) -> Outcome {
        let (passed, mut failed) =
            run::counts(&ended.output).unwrap_or((usize::from(ended.good), 0));
        let mut problems = Vec::new();
        if !ended.good {
            if failed == 0 {
                failed = 1;
            }
            problems.push(ended.how.clone());
        } else if failed > 0 {
            problems.push("it counted failures but ended well".to_owned());
        }
        Outcome {
            passed,
            failed,
            problems,
        }
    }

    /// A check, as one thing: some compare tens of thousands of values, which would drown every
    /// other count.
    pub fn of_check(ended: &Ended) -> Outcome {
        let (_, failed) = run::counts(&ended.output).unwrap_or_default();
        let mut problems = Vec::new();
        if failed > 0 {
            problems.push(format!("{failed} comparisons failed; they stand above"));
        } else if !ended.good {
            problems.push(ended.how.clone());
        }
        Outcome {
            passed: usize::from(problems.is_empty()),
            failed: usize::from(!problems.is_empty()),
            problems,
        }
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
    fn a_step_counts_what_its_program_counts() {
        let cases = [
            (true, "3 passed, 0 failed", (3, 0)),
            (false, "3 passed, 2 failed", (3, 2)),
            (false, "3 passed, 0 failed", (3, 1)),
            (true, "no count", (1, 0)),
            (false, "no count", (0, 1)),
        ];
        for (good, output, want) in cases {
            let outcome = Outcome::of_ended(&ended(good, output));
            assert_eq!((outcome.passed, outcome.failed), want, "{good} {output}");
        }
    }

    #[test]
    fn a_check_counts_as_one() {
        let cases = [
            (true, "71402 passed, 0 failed", (1, 0)),
            (false, "71400 passed, 2 failed", (0, 1)),
            (true, "71400 passed, 2 failed", (0, 1)),
            (true, "reach met", (1, 0)),
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
