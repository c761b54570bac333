package job

import (
	"io"
	"net/http"
	"slices"
	"time"

	"phasewright/book"
	"phasewright/procedure"
	"phasewright/web/page"
	"phasewright/web/shelf"
)

// pictureTypes are the kinds of file that are shown as pictures. A drawing with script in it (SVG) is none of them.
var pictureTypes = []string{"image/jpeg", "image/png", "image/webp", "image/gif"}

// photoLine is a photo with what it shows.
type photoLine struct{ Path, Title string }

// pictureOf is the address of the photo that a proof holds; "" where it holds none.
func pictureOf(j *shelf.Job, f *procedure.Proof) string {
	if f == nil || f.Kind != procedure.Photo || f.SHA256 == "" {
		return ""
	}
	return j.Path("/photo/" + f.SHA256)
}

// photosOf are the photos that prove steps, in the order of work.
func photosOf(j *shelf.Job) (out []photoLine) {
	p, state, err := j.Order()
	if err != nil {
		return nil
	}
	for i, st := range p.Steps() {
		if path := pictureOf(j, state.Steps[i].Proof); path != "" {
			out = append(out, photoLine{path, st.Title})
		}
	}
	return out
}

// photo sends a file of the job as a picture. What it is, its first bytes say: nothing else goes out this way.
func (r *Room) photo(q *page.Request, j *shelf.Job, f book.Attachment) error {
	file, _, err := r.Book.OpenAttachment(q.Context(), f.SHA256)
	if err != nil {
		return err
	}
	defer file.Close()
	head := make([]byte, 512) // that many tell the kind, by the WHATWG MIME Sniffing Standard
	n, err := io.ReadFull(file, head)
	if err != nil && err != io.ErrUnexpectedEOF && err != io.EOF {
		return err
	}
	media := http.DetectContentType(head[:n])
	if !slices.Contains(pictureTypes, media) {
		return page.Say(http.StatusUnsupportedMediaType, "This file is not a picture that browsers show.",
			"Take it from the captures page, or take the photo again as JPEG.")
	}
	if _, err := file.Seek(0, io.SeekStart); err != nil {
		return err
	}
	h := q.W.Header()
	h.Set("Content-Type", media)
	h.Set("Content-Disposition", "inline")
	h.Set("X-Content-Type-Options", "nosniff")
	h.Set("Cache-Control", "private, max-age=86400") // its address is its hash
	http.ServeContent(q.W, q.Request, "", time.Time{}, file)
	return nil
}
