// Package web is the app that lies on the wing beside the engine: the shop book, a job's card, sheet, readings and proof on a phone, a
// tablet or the desk, served from the same binary.
//
// What a job's events come to, and the papers made of them, is package record's; the pages show it and keep it worked out (jobs.go). The server
// renders every page and works every number with the pure packages; the script in the page only sends, fetches and
// swaps. A page therefore works without script too. GET never changes state. Changes go into the shop book, and the book tells every open
// page of the job that there is something new (live.go).
//
// Who may do what is decided in guard.go, device.go and pairing.go: the host's own screen is trusted, every other device pairs first.
package web
