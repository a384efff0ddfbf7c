//! Windows of time: lists of from and to in whole minutes, rising and apart.

/// `windows` in order, empty ones left out and those that touch made one.
pub fn joined(windows: impl IntoIterator<Item = [i64; 2]>) -> Vec<[i64; 2]> {
    let mut all: Vec<[i64; 2]> = windows.into_iter().filter(|[from, to]| from < to).collect();
    all.sort_unstable();
    let mut out: Vec<[i64; 2]> = Vec::new();
    for [from, to] in all {
        match out.last_mut() {
            // Within a minute: a midnight between two days, rounded inwards on both sides.
            Some(last) if from <= last[1] + 1 => last[1] = last[1].max(to),
            _ => out.push([from, to]),
        }
    }
    out
}

/// What two lists of windows have in common.
pub fn common(a: &[[i64; 2]], b: &[[i64; 2]]) -> Vec<[i64; 2]> {
    let pairs = a
        .iter()
        .flat_map(|one| b.iter().map(move |other| (one, other)));
    joined(pairs.map(|(one, other)| [one[0].max(other[0]), one[1].min(other[1])]))
}

/// `a` less `b`; both in order.
pub fn without(a: &[[i64; 2]], b: &[[i64; 2]]) -> Vec<[i64; 2]> {
    let mut out = Vec::new();
    for [from, to] in a {
        let mut left = *from;
        for [cut, end] in b.iter().filter(|[cut, end]| end > from && cut < to) {
            out.push([left, *cut]);
            left = *end;
        }
        out.push([left, *to]);
    }
    out.retain(|[from, to]| from < to);
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn windows_are_joined_cut_and_taken_away() {
        assert_eq!(joined([[5, 9], [0, 3], [4, 6], [7, 7]]), [[0, 9]]);
        assert_eq!(
            common(&[[0, 10], [20, 30]], &[[5, 25]]),
            [[5, 10], [20, 25]]
        );
        assert_eq!(
            without(&[[0, 30]], &[[5, 10], [20, 25]]),
            [[0, 5], [10, 20], [25, 30]]
        );
        assert_eq!(without(&[[0, 10]], &[[0, 10]]), Vec::<[i64; 2]>::new());
    }
}
