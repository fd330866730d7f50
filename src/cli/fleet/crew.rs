//! Intents and what is to be done with one -> all of them done, by several threads, and told in their order.

use std::collections::BTreeMap;
use std::io::{IsTerminal, stderr};
use std::mem::ManuallyDrop;
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
use std::sync::{Arc, mpsc};
use std::time::{Duration, Instant};

use super::super::{Reader, terminal};
use crate::compile::shapes::Shapes;
use crate::platform::Platform;
use crate::render::Engines;

/// Time between two lines of progress: a person reads no faster.
const BETWEEN: Duration = Duration::from_millis(100);

/// One of those who work: what it has opened for one intent serves the next one.
pub(in super::super) struct Worker {
    /// Reads.
    pub(in super::super) reader: Reader,
    /// By the dialect's own address, which the shared hold keeps from being another's.
    engines: BTreeMap<usize, (Arc<Platform>, Engines)>,
    /// What serves the whole crew.
    shapes: Option<Arc<Shapes>>,
}

/// What one intent is worked on with.
pub(in super::super) struct Tools<'a> {
    /// Reads.
    pub(in super::super) reader: &'a mut Reader,
    /// The templates of its dialect.
    pub(in super::super) engines: &'a Engines,
    /// What was found for other stacks.
    pub(in super::super) shapes: Option<&'a Shapes>,
}

impl Worker {
    fn new(roots: &[PathBuf], shapes: Option<Arc<Shapes>>) -> Self {
        Self { reader: Reader::new(roots.to_vec()), engines: BTreeMap::new(), shapes }
    }

    /// The reader, and the templates of a dialect, parsed once for all intents that use it.
    pub(in super::super) fn with(&mut self, platform: &Arc<Platform>) -> Tools<'_> {
        let made = || (Arc::clone(platform), Engines::new(platform));
        let (_, engines) = self.engines.entry(Arc::as_ptr(platform).addr()).or_insert_with(made);
        engines.begin();
        Tools { reader: &mut self.reader, engines, shapes: self.shapes.as_deref() }
    }

    /// Makes room for the next intent.
    fn turn_page(&mut self) {
        if self.shapes.is_some() {
            self.reader.turn_page();
        } else {
            self.engines.clear();
            self.reader.begin_anew();
        }
    }
}

/// How a crew works.
#[derive(Clone, Copy, Debug)]
pub(in super::super) struct Crew<'a> {
    /// Threads.
    pub(in super::super) threads: usize,
    /// Folders in which dialects may lie.
    pub(in super::super) roots: &'a [PathBuf],
    /// Whether what was opened for one intent serves the next one.
    pub(in super::super) shares: bool,
    /// Whether progress is shown, where a person sees it.
    pub(in super::super) progress: bool,
    /// Set when the program is told to end: what is begun is done to its end, nothing more is begun.
    pub(in super::super) ended: &'a AtomicBool,
}

impl Crew<'_> {
    /// Does the work for each intent; what comes out is told in the order of the intents. Gives how many were done.
    pub(in super::super) fn over<T: Send>(
        &self,
        intents: &[PathBuf],
        work: impl Fn(&mut Worker, &Path) -> T + Sync,
        mut tell: impl FnMut(&Path, T),
    ) -> usize {
        let mut bar = Bar::new(intents.len(), self.progress);
        let shapes = self.shares.then(Arc::<Shapes>::default);
        if self.threads.min(intents.len()) <= 1 {
            // the process ends soon: nothing of the worker is taken apart piece by piece
            let mut worker = ManuallyDrop::new(Worker::new(self.roots, shapes.clone()));
            for (at, intent) in intents.iter().enumerate() {
                if self.ended.load(Ordering::SeqCst) {
                    return at;
                }
                let done = work(&mut worker, intent);
                bar.clear();
                tell(intent, done);
                bar.show(at + 1);
                worker.turn_page();
            }
            bar.clear();
            return intents.len();
        }
        let (next, (send, receive)) = (AtomicUsize::new(0), mpsc::sync_channel(256));
        let mut turn = 0;
        std::thread::scope(|scope| {
            for _ in 0..self.threads.min(intents.len()) {
                let (send, next, work, shapes) = (send.clone(), &next, &work, shapes.clone());
                scope.spawn(move || {
                    let mut worker = ManuallyDrop::new(Worker::new(self.roots, shapes));
                    while !self.ended.load(Ordering::SeqCst) {
                        let at = next.fetch_add(1, Ordering::SeqCst);
                        let Some(intent) = intents.get(at) else { break };
                        let done = work(&mut worker, intent);
                        worker.turn_page();
                        if send.send((at, done)).is_err() {
                            break;
                        }
                    }
                });
            }
            drop(send);
            let mut early = BTreeMap::new();
            for (count, (at, done)) in receive.iter().enumerate() {
                early.insert(at, done);
                while let (Some(done), Some(intent)) = (early.remove(&turn), intents.get(turn)) {
                    bar.clear();
                    tell(intent, done);
                    turn += 1;
                }
                bar.show(count + 1);
            }
        });
        bar.clear();
        turn
    }
}

/// How far the work is, on one line that is written over; only where a person sees it.
struct Bar {
    all: usize,
    shown: Option<Instant>,
    stands: bool,
    wanted: bool,
}

impl Bar {
    fn new(all: usize, wanted: bool) -> Self {
        Self { all, shown: None, stands: false, wanted: wanted && all > 1 && stderr().is_terminal() }
    }

    fn show(&mut self, done: usize) {
        if self.wanted && self.shown.is_none_or(|before| before.elapsed() >= BETWEEN) {
            terminal::error(&format!("\r{done} of {} stacks", self.all));
            (self.shown, self.stands) = (Some(Instant::now()), true);
        }
    }

    /// Takes the line away, before anything else is said.
    fn clear(&mut self) {
        if std::mem::take(&mut self.stands) {
            terminal::error("\r\u{1b}[K");
        }
    }
}
