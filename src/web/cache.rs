//! Answers given lately: a page that moves a control back and forth, or asks for several pictures, gets them at once.
//!
//! The same question has the same answer to the last byte, so nothing here goes stale.

use std::collections::VecDeque;
use std::sync::{Arc, Mutex};

/// Answers kept of each kind [-]; one has some 100 kB.
const MOST: usize = 64;
/// Longest question that is kept [bytes]; a usual case has a tenth of it.
const QUESTION_MAX: usize = 16 << 10;

/// Answers given lately, the latest last.
pub(super) struct Cache<T>(Mutex<VecDeque<(String, Arc<T>)>>);

impl<T> Cache<T> {
    pub(super) fn new() -> Self {
        Self(Mutex::new(VecDeque::new()))
    }

    /// The answer to a question, when it was given lately.
    pub(super) fn get(&self, question: &str) -> Option<Arc<T>> {
        let mut answers = self.0.lock().ok()?;
        let place = answers.iter().position(|(known, _)| known == question)?;
        let found = answers.remove(place)?;
        let answer = found.1.clone();
        answers.push_back(found);
        Some(answer)
    }

    /// Keeps an answer; the one not asked for longest goes.
    pub(super) fn put(&self, question: String, answer: Arc<T>) {
        let Ok(mut answers) = self.0.lock() else { return };
        if question.len() <= QUESTION_MAX {
            answers.push_back((question, answer));
        }
        if answers.len() > MOST {
            answers.pop_front();
        }
    }
}

#[cfg(test)]
mod tests {
    use super::{Arc, Cache, MOST, QUESTION_MAX};

    #[test]
    fn property_what_is_asked_for_stays_and_memory_is_bounded() {
        let cache = Cache::new();
        for number in 0..2 * MOST {
            cache.put(number.to_string(), Arc::new(number));
            assert_eq!(cache.get("0").as_deref(), Some(&0), "0 was asked for last");
        }
        assert_eq!(cache.get("1"), None);
        assert_eq!(cache.0.lock().unwrap().len(), MOST);
        let long = "x".repeat(QUESTION_MAX + 1);
        cache.put(long.clone(), Arc::new(1));
        assert_eq!(cache.get(&long), None);
    }
}
