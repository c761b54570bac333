// Package web is the app that lies on the wing beside the engine: the shop book, a job's card, sheet, readings and
// proof on a phone, a tablet or the desk, served from the same binary.
//
// This room listens and hands each request on. The pages stand in the rooms below: access (pairing and devices), job,
// recording and livebench. They share shelf (the jobs of the shop book) and page (how anything is answered).
//
// The server renders every page and works every number with the pure packages; the script in the page only sends,
// fetches and swaps. A page therefore works without script too. GET never changes state. Changes go into the shop book,
// and the book tells every open page of the job that there is something new (live.go).
package web
