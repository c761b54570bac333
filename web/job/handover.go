package job

import (
	"io"
	"net/http"
	"time"

	"phasewright/record"
	"phasewright/web/page"
	"phasewright/web/shelf"
)

// handOver sends everything of a job as one file: papers, data, recordings. It is written as it goes, so that a large
// recording takes no room.
func (r *Room) handOver(q *page.Request, j *shelf.Job) error {
	files, err := record.FilesOf(q.Context(), r.Book, j.ID)
	if err != nil {
		return err
	}
	h := q.W.Header()
	h.Set("Content-Type", "application/zip")
	h.Set("Content-Disposition", `attachment; filename="`+j.FileName("all papers and data.zip")+`"`)
	w := &begun{w: q.W, control: http.NewResponseController(q.W)}
	err = j.HandOver(w, files, q.PaperSize())
	if err != nil && !w.any {
		h.Del("Content-Disposition")
	}
	if err != nil && w.any {
		panic(http.ErrAbortHandler) // the answer has begun: the browser must see that it broke off
	}
	return err
}

// handOverIdle is how long a device may take nothing before it is left: a large recording may take as long as it does.
const handOverIdle = 30 * time.Second

// begun knows whether anything of an answer was sent.
type begun struct {
	w       io.Writer
	control *http.ResponseController
	any     bool
}

func (b *begun) Write(p []byte) (int, error) {
	b.any = true
	b.control.SetWriteDeadline(time.Now().Add(handOverIdle)) // test recorders know none
	return b.w.Write(p)
}
