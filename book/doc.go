// Package book is the shop book: all jobs, and everything that was recorded about them, so that nothing recorded is
// ever lost or silently changed.
//
// # What it keeps
//
// A book is one SQLite file (write-ahead log, synchronous=FULL) with a folder beside it, FILE.files, for attachments.
// The file FILE.lock keeps a second writer out, and a lock on the file itself one who comes by another name: a book is
// one file, whatever names and links lead to it. The truth is the table events: who did what, when, with which JSON
// payload, as which version of which job. Events are only ever added; a correction is a new event, and triggers stop
// plain SQL from changing one. Everything else (the job list, counts, the list of files, the search index) is derived
// from the events by fold, which Append, Rebuild, Check and the upgrades share, and can be dropped and made again.
//
// An event is on disk before Append returns. Requests that arrive while the disk is busy share the next commit.
//
// # The chain
//
// Each job has a chain of its own, so that one exported job can be verified by itself: an event's Prev is the Hash of
// the job's event before. HashEvent says exactly what is hashed: the event's JSON object in the form of RFC 8785, which
// other languages can make too (testdata/verify.py does). Beside the chains, Seq numbers all events of the book without
// gaps, so that Check also misses a whole job that was taken out, or the last event of one. The chain shows accidents
// and careless changes; whoever can write the file and takes the trouble to make all later hashes anew is not stopped
// by it. A copy of Job.Head kept elsewhere, on a printed proof say, stops that as well.
//
// # People
//
// Whose engine it is, how to reach them (owner and contact of job.created and job.described), the owner in the text of
// a card, the name under a proof in the role of customer, owner or client, and what a text, note, reason or proof puts
// between [[ and ]]: these values lie in the table personal, not in events. In the payload as stored and hashed stands
// {"sealed":"…"} in place of the value, or {"parts":["text before",{"sealed":"…"},"text behind"]} where it is part of a
// text: the hexadecimal SHA-256 of 16 random bytes, the salt, and behind them the value in UTF-8. Readers get payloads
// with the values filled in.
//
// Forget erases values and salts of a job by an event, job.person_erased; the chain still verifies. It is a change of
// the table personal, never of an event. "erased on" and the date are filled in then. The file is written anew and the
// log emptied before Forget returns; where that broke off, the next opening does it. Import, merge, backup and restore
// carry values, salts and erasures.
//
// Events of a schema before 4 were hashed with their values in place. The upgrade moves those to the table too and
// marks them (clear). While they are there, the hash is taken with them filled in. Once they are erased it cannot be
// made anew: Check counts such events and verifies their links.
//
// # Order and time
//
// Order is by version, never by time. Times come from the caller's clock and are kept as given; one earlier than that
// of the job's event before is flagged (Event.Back).
//
// # Writing together
//
// A job's version is the count of its events. Append against an old version is refused with a *Conflict that says what
// happened since; events that are right at any version (a reading, a photo) go in with AnyVersion. A key made by the
// client keeps a resent event from being recorded twice.
//
// # Finding
//
// A search goes through names, the values of the card as last saved, the years of the work, notes and findings, of jobs
// put away too where Query.Shelf says so. Letters are folded alike on both sides (runs): ä, ae and a are one, and an
// apostrophe is none. The index finds words by their beginnings. The table vocabulary holds each word once and the
// table grams what three letters it has side by side: so the words are found that hold what was typed in their middle
// and, where nothing was found as typed, those a slip or two away. What is found or listed goes by Job.WorkedAt, the
// time of the work, whenever it came into the book.
//
// # Attachments
//
// Files are kept by content in FILE.files/ab/cdef…, for a SHA-256 of abcdef…. A file is written to FILE.files/incoming,
// synced, renamed and only then named by an event. Names that users give are shown, never used as paths.
//
// A large recording may be thrown away (Discard): an event says so, name, size and hash stay, and check, backup,
// export, import and merge do without its content. An export made before still holds it.
//
// # Copies
//
// Backup copies a book while it is in use. Whoever copies the file alone misses what is in the log beside it: the file
// of a book in use says so in itself (custody), and without a log it is refused with ErrCopied. Restore takes over what
// it holds. After a second without a new event the log is written into the file, so that little is missed.
//
// Merge takes the jobs of another book over, each by its own chain; a job that both books went on with is told and left
// as it is.
//
// # Upgrades
//
// steps lists every change of the schema since the first. Open runs those that are missing, each in a transaction, and
// fills the derived tables again in the last one. A book of a newer schema is refused and left alone.
//
// # Damage
//
// A book opened for writing is looked through first. Once something of its database could not be read, then or later,
// it takes no more events until it is opened again, and Damage says so; what can be read still is. Restore from the
// damaged file takes each event over by itself, which saves everything unless the damage is in the events; then a
// backup is needed.
//
// # PostgreSQL
//
// Instead of a file a book may be a schema of a PostgreSQL database, which any number of programs open at once: Open
// takes its address, Migrate makes the tables as their owner. The words above hold there too, with these differences.
// Whoever writes takes the turn (begin): one transaction after another, whichever program it comes from. Files lie in
// the same database, in chunks. What other programs record is heard of by notices and read by number. While the
// database is away the error is ErrAway; the writer waits for it for some seconds, finds out whether a commit whose
// answer was lost had come there, and goes on. Copy carries a book over, to PostgreSQL or back.
//
// # Limits
//
// Not tried: loss of power (SQLite's own promise with synchronous=FULL and an honest disk is what stands there), and
// network file systems, which SQLite's locks and log do not suit. A check of derived data and chains reads everything
// and takes its time.
package book
