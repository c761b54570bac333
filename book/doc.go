// Package book is the shop book: all jobs, and everything that was recorded about them, so that nothing recorded is ever
// lost or silently changed.
package book
