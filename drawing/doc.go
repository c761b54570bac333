// Package drawing puts the trade's drawings on paper and on the screen: damper
// marks, cap map, timing tape, charts and sheets, in millimetres.
//
// One display list (Drawing) holds lines, curves, filled shapes and text. Two
// writers read it: SVG for the page, PDF for the printer. Text is measured once,
// from the font that both use, so the layout is the same on screen and paper.
//
// Units and signs: lengths are millimetres, x to the right and y down from the
// top left corner. Angles are degrees, zero straight up (twelve o'clock), positive
// clockwise as the reader sees the sheet. The room knows geometry only: callers
// hand in plain numbers and words.
//
// What fails: a drawing function returns an error (where – what – remedy) for
// values that no sheet can show. Text never fails: characters that no embedded
// face holds are replaced by their code points in brackets, and Warnings names them.
package drawing
