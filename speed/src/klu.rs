//! KLU of SuiteSparse, the published C library for circuit matrices (Davis and Palamadai Natarajan 2010),
//! where it is installed (Debian: libsuitesparse-dev or libklu1). It is under the LGPL: it is opened at run time
//! and only here, to stand beside our own; nothing of the product links to it.

use dryjoint_circuit::Pattern;
use libloading::Library;
use std::ffi::{c_int, c_void};

const NAMES: [&str; 3] = ["libklu.so.2", "libklu.so.1", "libklu.so"];

type Analyze = unsafe extern "C" fn(c_int, *const c_int, *const c_int, *mut c_void) -> *mut c_void;
type Factor =
    unsafe extern "C" fn(*const c_int, *const c_int, *const f64, *mut c_void, *mut c_void) -> *mut c_void;
type Refactor = unsafe extern "C" fn(
    *const c_int,
    *const c_int,
    *const f64,
    *mut c_void,
    *mut c_void,
    *mut c_void,
) -> c_int;
type Solve = unsafe extern "C" fn(*mut c_void, *mut c_void, c_int, c_int, *mut f64, *mut c_void) -> c_int;

/// A matrix factored by KLU.
pub struct Klu {
    library: Library,
    starts: Vec<c_int>,
    rows: Vec<c_int>,
    /// Its settings; a good deal larger than any release's.
    common: Box<[u64; 256]>,
    symbolic: *mut c_void,
    numeric: *mut c_void,
}

impl Klu {
    /// Analysed and factored once; nothing where the library is not there or refuses the matrix.
    pub fn new(pattern: &Pattern, values: &[f64]) -> Option<Self> {
        let ints = |list: &[u32]| list.iter().map(|k| *k as c_int).collect::<Vec<c_int>>();
        // SAFETY: the library's initialiser does nothing but set its tables.
        let library = NAMES.iter().find_map(|name| unsafe { Library::new(name) }.ok())?;
        let mut klu = Self {
            library,
            starts: ints(&pattern.starts),
            rows: ints(&pattern.rows),
            common: Box::new([0; 256]),
            symbolic: std::ptr::null_mut(),
            numeric: std::ptr::null_mut(),
        };
        let common: *mut c_void = klu.common.as_mut_ptr().cast();
        // SAFETY: signatures as in klu.h; the arrays live as long as the call, and have the lengths that
        // the compressed columns say.
        unsafe {
            let defaults =
                klu.library.get::<unsafe extern "C" fn(*mut c_void) -> c_int>(b"klu_defaults").ok()?;
            defaults(common);
            let analyze = klu.library.get::<Analyze>(b"klu_analyze").ok()?;
            klu.symbolic = analyze(pattern.n() as c_int, klu.starts.as_ptr(), klu.rows.as_ptr(), common);
            if klu.symbolic.is_null() {
                return None;
            }
            let factor = klu.library.get::<Factor>(b"klu_factor").ok()?;
            klu.numeric =
                factor(klu.starts.as_ptr(), klu.rows.as_ptr(), values.as_ptr(), klu.symbolic, common);
        }
        (!klu.numeric.is_null()).then_some(klu)
    }

    /// The arithmetic alone, on the pattern and pivots found before.
    pub fn refactor(&mut self, values: &[f64]) -> bool {
        let common: *mut c_void = self.common.as_mut_ptr().cast();
        // SAFETY: as in `new`; symbolic and numeric are the library's own.
        unsafe {
            self.library.get::<Refactor>(b"klu_refactor").is_ok_and(|refactor| {
                refactor(
                    self.starts.as_ptr(),
                    self.rows.as_ptr(),
                    values.as_ptr(),
                    self.symbolic,
                    self.numeric,
                    common,
                ) == 1
            })
        }
    }

    /// Solves for the right-hand side in place.
    pub fn solve(&mut self, b: &mut [f64]) -> bool {
        let common: *mut c_void = self.common.as_mut_ptr().cast();
        let n = b.len() as c_int;
        // SAFETY: as in `new`; `b` has one entry per row.
        unsafe {
            self.library
                .get::<Solve>(b"klu_solve")
                .is_ok_and(|solve| solve(self.symbolic, self.numeric, n, 1, b.as_mut_ptr(), common) == 1)
        }
    }
}
