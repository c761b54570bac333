// Package webtest is what the tests of web's rooms share: a server over a real shop book, requests as a browser sends
// them, a browser of its own, and jobs and recordings to look at. Nothing but tests may import it.
package webtest
