//! Cautions that several parts of a recipe bring along, each sentence of them once.
//!
//! Never in here: which cautions there are. Changes when cautions are told otherwise.

/// Where a sentence of a caution ends.
const END: &str = ". ";

/// Cautions in their order. What begins with the sentence that another one begins with goes on there with its own sentences.
pub(super) fn said_once(cautions: impl Iterator<Item = String>) -> Vec<String> {
    let mut all: Vec<Vec<String>> = Vec::new();
    for caution in cautions {
        let sentences = sentences(&caution);
        match all.iter_mut().find(|own| own.first() == sentences.first()) {
            None => all.push(sentences),
            Some(own) => {
                for sentence in sentences {
                    if !own.contains(&sentence) {
                        own.push(sentence);
                    }
                }
            }
        }
    }
    all.iter().map(|sentences| sentences.join(" ")).collect()
}

/// The sentences of a caution, each with its full stop.
fn sentences(caution: &str) -> Vec<String> {
    let caution = caution.trim();
    let parts = caution.split_inclusive(END);
    parts.map(|part| part.trim().to_owned()).collect()
}

#[cfg(test)]
mod tests {
    use super::said_once;

    fn told(cautions: &[&str]) -> Vec<String> {
        said_once(cautions.iter().map(|c| (*c).to_owned()))
    }

    #[test]
    fn what_begins_alike_is_said_once() {
        let all = told(&[
            "Fluids and mains do not mix. Lead the line.",
            "Wear gloves.",
            "Fluids and mains do not mix. Dry the pump.",
        ]);
        assert_eq!(
            all,
            [
                "Fluids and mains do not mix. Lead the line. Dry the pump.",
                "Wear gloves."
            ]
        );
    }

    #[test]
    fn others_stay_as_they_are() {
        let all = [
            "Wear gloves. Now.",
            "",
            "Now. Wear gloves.",
            "About 3.5 kV.",
        ];
        assert_eq!(told(&all), all);
    }
}
