// Package yamltext reads the files that people write by hand, job cards and evidence: it checks the text, gives the
// YAML tree with the place of every value, and says what is wrong with file, line, column, the source line and a
// remedy.
//
// It knows no keys: the rooms that own a kind of file give a table of theirs. Faults are values (Error, Errors);
// nothing is printed and no file is opened here.
package yamltext
