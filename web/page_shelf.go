package web

import (
	"encoding/json"
	"net/http"

	"phasewright/book"
)

// shelfPost puts a finished job away or takes it up again. Nothing of it is lost either way.
func (s *Server) shelfPost(w http.ResponseWriter, r *http.Request, v *visit) error {
	if err := r.ParseForm(); err != nil {
		return err
	}
	line, err := s.Book.Job(r.Context(), r.PathValue("job"))
	if err != nil {
		return err
	}
	kind, to := book.KindJobArchived, "/"
	if line.Archived {
		kind, to = book.KindJobReopened, "/job/"+line.ID
	}
	payload, err := json.Marshal(map[string]string{"reason": cleanName(r.PostForm.Get("reason"))})
	if err != nil {
		return err
	}
	if _, err := s.Book.Append(r.Context(), line.ID, book.AnyVersion, book.Draft{Who: v.who, Kind: kind, Payload: payload, Key: r.PostForm.Get("key")}); err != nil {
		return err
	}
	return done(w, r, to)
}

// shelfOf reads which jobs a list shall show.
func shelfOf(r *http.Request) book.Shelf {
	if r.URL.Query().Get("shelf") == "away" {
		return book.Archived
	}
	return book.Active
}
