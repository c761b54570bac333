// Package jobcard is the job card: everything known of one engine, its distributor, signals, controller, coil and
// damper, read from strict YAML with units in the values.
//
// One table of fields (fields*.go) drives the parser, the JSON Schema, the commented starter card and the
// documentation, so that they cannot drift. Unknown and duplicate keys, wrong units and impossible values are *Error
// values with file, line, column, the source line and a remedy.
//
// Words and figures are taken as people write them. A value that was read but is likelier a slip, such as a length with
// the wrong unit, is a Doubt: it is asked about until the card says that somebody has looked (job.confirmed).
package jobcard
