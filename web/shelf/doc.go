// Package shelf is the shop book as the pages see it: the interface to it, each job kept worked out, what a job needs
// next, and what came late or does not count, in words. What a job's events come to is package record's.
package shelf
