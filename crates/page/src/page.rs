//! The page's state: the work on one unit, the latest opinion, and who is to be told of changes.

use crate::before::Before;
use crate::gate::{Access, Gate};
use crate::practice::{Practice, Score, best};
use crate::subject::Subject;
use crate::task::Task;
use crate::weigh::{Opinion, Weigher};
use crate::work::Work;
use dryjoint_records::{Store, StoreError};
use std::sync::{Arc, Mutex, MutexGuard, OnceLock, PoisonError};
use tokio::sync::{Semaphore, watch};

/// Why a page cannot be served.
#[derive(Debug)]
pub enum Failure {
    /// The records.
    Store(StoreError),
    /// The network of this machine.
    Network(std::io::Error),
    /// The virtual unit.
    Practice(String),
}

impl std::fmt::Display for Failure {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Store(error) => write!(f, "{error}"),
            Self::Network(error) => write!(f, "the page cannot be served: {error}"),
            Self::Practice(error) => write!(f, "the virtual unit: {error}"),
        }
    }
}

impl std::error::Error for Failure {}

/// The page on one unit.
#[derive(Debug)]
pub struct Page {
    /// The board.
    pub(crate) subject: Subject,
    /// Who may come in.
    pub(crate) gate: Gate,
    /// What holds before power.
    pub(crate) before: Before,
    work: Mutex<Work>,
    practice: Option<Mutex<Practice>>,
    opinion: Mutex<Option<Arc<Opinion>>>,
    /// The best possible practice without a meter, and with one.
    best: [OnceLock<Option<Score>>; 2],
    weigher: OnceLock<Weigher>,
    version: watch::Sender<u64>,
    /// Tabs that may hear of changes at the same time.
    pub(crate) listeners: Arc<Semaphore>,
}

/// More tabs than a bench has; each holds a connection open.
const LISTENERS: usize = 64;

impl Page {
    /// The page on a unit, taken up where its log ends. With a number, a fault is hidden in a virtual one. Without a `meter`
    /// at hand it advises by lamps alone until told otherwise.
    pub fn new(
        subject: Subject,
        store: Store,
        serial: &str,
        practice: Option<u64>,
        meter: bool,
        access: &Access,
    ) -> Result<Arc<Self>, Failure> {
        let page = Self::silent(subject, store, serial, practice, access)?;
        page.work().meter = meter;
        let page = Arc::new(page);
        let told = Arc::downgrade(&page);
        let weigher = Weigher::start(subject, move |opinion| {
            if let Some(page) = told.upgrade() {
                *locked(&page.opinion) = Some(opinion);
                page.changed();
            }
        });
        // Nobody else has seen this page yet.
        let _ = page.weigher.set(weigher);
        page.ask();
        Ok(page)
    }

    /// The same while nobody weighs.
    fn silent(
        subject: Subject,
        store: Store,
        serial: &str,
        practice: Option<u64>,
        access: &Access,
    ) -> Result<Self, Failure> {
        let work = Work::open(subject, store, serial, practice).map_err(Failure::Store)?;
        let hidden = practice.map(|seed| Practice::new(subject, seed)).transpose();
        let hidden = hidden.map_err(Failure::Practice)?;
        Ok(Self {
            subject,
            gate: Gate::new(access),
            before: Before::of(subject),
            work: Mutex::new(work),
            practice: hidden.map(Mutex::new),
            opinion: Mutex::new(None),
            best: [OnceLock::new(), OnceLock::new()],
            weigher: OnceLock::new(),
            version: watch::Sender::new(0),
            listeners: Arc::new(Semaphore::new(LISTENERS)),
        })
    }

    /// The work, while nobody else has it.
    pub(crate) fn work(&self) -> MutexGuard<'_, Work> {
        locked(&self.work)
    }

    /// The latest opinion.
    pub(crate) fn opinion(&self) -> Option<Arc<Opinion>> {
        locked(&self.opinion).clone()
    }

    /// The virtual unit.
    pub(crate) fn practice(&self) -> Option<MutexGuard<'_, Practice>> {
        self.practice.as_ref().map(locked)
    }

    /// What the hands do now.
    pub(crate) fn task(&self, work: &Work) -> Task {
        Task::of(work, self.opinion().as_deref())
    }

    /// How well the practice could have gone with what is at hand, once that is known. Asked for first when it is over.
    pub(crate) fn best(self: &Arc<Self>, work: &Work) -> Option<&Score> {
        let hidden = self.practice()?.hidden();
        let seed = work.practice?;
        let meter = work.meter;
        if let Some(known) = self.best[usize::from(meter)].get() {
            return known.as_ref();
        }
        let page = Arc::clone(self);
        std::thread::spawn(move || {
            page.best[usize::from(meter)].get_or_init(|| best(page.subject, (hidden, seed), meter).ok());
            page.changed();
        });
        None
    }

    /// Something was entered: asks for an opinion and tells every tab.
    pub(crate) fn entered(&self) {
        self.ask();
        self.changed();
    }

    fn ask(&self) {
        let work = self.work();
        let fresh = self.opinion().is_some_and(|opinion| opinion.basis == work.basis());
        if let Some(weigher) = self.weigher.get().filter(|_| !fresh) {
            weigher.ask(work.basis(), work.stand().session.clone());
        }
    }

    fn changed(&self) {
        self.version.send_modify(|version| *version += 1);
    }

    /// Reads the log again if another process wrote to it.
    pub(crate) fn catch_up(&self) {
        let caught = self.work().catch_up();
        if caught.unwrap_or(false) {
            self.entered();
        }
    }

    /// Whoever wants to hear of changes.
    pub(crate) fn listen(&self) -> watch::Receiver<u64> {
        self.version.subscribe()
    }
}

/// A lock whose holder panicked still holds what it held: everything is made anew from the store.
fn locked<T>(mutex: &Mutex<T>) -> MutexGuard<'_, T> {
    mutex.lock().unwrap_or_else(PoisonError::into_inner)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::step::ADVISING;
    use crate::weigh::Advice;
    use crate::{step, suspects};
    use dryjoint_faults::Priors;
    use dryjoint_procedure::{Costs, Effort, Study, plan};
    use dryjoint_session::Sight;
    use dryjoint_verdict::{End, Inquiry, Verdict};

    /// One lamp behind its resistor, planned once for this test.
    fn subject() -> Subject {
        let text = "board b \"b\"\nrail VCC 5V limit 100mA\nground GND\nJ1 header 1=GND 2=VCC\nR1 470 VCC n\nDS1 red a=n k=GND\n";
        let board = Box::leak(Box::new(dryjoint_netlist::read_alone("b.board", text).board.unwrap()));
        let (extracted, _) = dryjoint_logic::extract(board);
        let study = Study::new(Box::leak(Box::new(extracted)), &Priors::default());
        let procedure = plan(&study, &Costs::default(), &Effort::default(), &|_| true);
        Subject::kept(study, procedure, Priors::default())
    }

    /// Takes the first step's look with the lamp so.
    fn look(page: &Page, key: &str, sight: Sight) {
        let mut work = page.work();
        let step = work.next_step().unwrap();
        let Task::Do(dryjoint_verdict::Deed::Look { actions, expect, .. }) = Task::step(&work, step) else {
            panic!("a step is a look")
        };
        let entry = work.look(key, Some(step), &actions, &expect, &[(expect[0].0, sight)]);
        let after = work.count();
        work.keep(after, entry).unwrap();
    }

    fn screens(page: &Arc<Page>) -> [String; 2] {
        let work = page.work();
        [step::screen(page, &work, false).into_string(), suspects::screen(page, &work).into_string()]
    }

    #[test]
    fn the_suspects_are_shown_while_the_advice_is_sought_and_none_that_is_older_beside_them() {
        let subject = subject();
        let file = std::env::temp_dir().join(format!("dryjoint-page-{}.sqlite", crate::work::random_key()));
        let store = Store::open(&file).unwrap();
        let access = Access::new(std::net::SocketAddr::from(([127, 0, 0, 1], 4000)));
        let page = Arc::new(Page::silent(subject, store, "1", None, &access).unwrap());
        look(&page, "aaaaaaaa", Sight::Dark);
        for screen in screens(&page) {
            assert!(screen.contains("eing weighed") && !screen.contains(ADVISING), "{screen}");
        }
        let basis = page.work().basis();
        let session = page.work().stand().session.clone();
        let mut inquiry = Inquiry::new(subject.study, subject.priors);
        let verdict = inquiry.weigh(&session);
        let next = inquiry.next(subject.procedure, subject.costs, &session, &verdict);
        assert!(next.is_ok(), "a dark lamp leaves something to measure");
        let first = verdict.suspects[0].names(subject.study).remove(0);
        let tell = |verdict: &Verdict, advice| {
            let opinion = Opinion { basis, verdict: verdict.clone(), advice, pairs: None };
            *locked(&page.opinion) = Some(Arc::new(opinion));
        };
        tell(&verdict, Advice::Sought);
        let [step, list] = screens(&page);
        assert!(step.contains(&first) && step.contains(ADVISING) && !step.contains("eing weighed"), "{step}");
        assert!(list.contains(&first) && list.contains(ADVISING) && !list.contains("Next:"), "{list}");
        tell(&verdict, Advice::Found(next));
        let [step, list] = screens(&page);
        assert!(step.contains(&first) && step.contains("then it is") && !step.contains(ADVISING), "{step}");
        assert!(list.contains(&first) && list.contains("Next:") && !list.contains(ADVISING), "{list}");
        tell(&verdict, Advice::Found(Err(End::OneCircuit)));
        let [step, list] = screens(&page);
        assert!(step.contains("The verdict") && list.contains(End::OneCircuit.words()), "{step} {list}");
        // Advice for a bench with a meter is none for a bench without.
        page.work().meter = false;
        for screen in screens(&page) {
            assert!(screen.contains("eing weighed") && !screen.contains(End::OneCircuit.words()), "{screen}");
        }
        page.work().meter = true;
        // Something else is read: neither that verdict nor its advice stands beside it.
        page.work().undo("bbbbbbbb", 1).unwrap();
        look(&page, "cccccccc", Sight::Dim);
        for screen in screens(&page) {
            assert!(screen.contains("eing weighed"), "{screen}");
            assert!(
                !screen.contains(ADVISING) && !screen.contains("Next:") && !screen.contains("then it is")
            );
        }
        std::fs::remove_file(&file).unwrap();
    }
}
