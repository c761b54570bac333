package shelf

import (
	"encoding/json"

	"phasewright/book"
)

// CaptureOf is the file that an event says was read as a recording.
func CaptureOf(e book.Event) (book.Hash, bool) {
	var p struct {
		SHA256 book.Hash `json:"sha256"`
	}
	ok := e.Kind == book.KindCaptureRead && json.Unmarshal(e.Payload, &p) == nil
	return p.SHA256, ok
}
