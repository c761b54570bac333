// Package page is what every page of the app is answered with, whichever room it belongs to: who asks and in which
// role, the templates, embedded files, answers to forms and scripts, errors in words, numbers and drawings as pages
// print them, and event streams. Of jobs it knows the names of their pages only.
package page
