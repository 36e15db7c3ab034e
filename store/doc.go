// Package store keeps the salon: rows in SQLite, photo originals as files named by the SHA-256 of their bytes.
//
// It owns durability, versions of edited rows, the trash and the job queue. It refuses to judge: what a photo shows,
// which session it belongs to and what a day means is the caller's business.
//
// Promises to the caller:
//   - Every error that a person can do something about is a *timeline.Fault: NotFound, Conflict (stale Rev, name or day
//     taken), Invalid (a word the schema does not know), Busy, NoSpace, TooNew. Other errors are Internal.
//   - A row asked for by its ID is returned also when it is in the trash (Trashed is set then); lists and look-ups by
//     name, day or hash leave trashed rows out.
//   - An empty list is not an error and not nil.
//   - Update… checks Rev and returns the row with its new Rev; Trash… and Restore… do not need one.
//   - A Store may be used by many goroutines, and its folder by several processes at once.
package store
