package web

import (
	"net/http"
	"net/url"

	"phasewright/book"
)

// stepsPDF is the order of work on paper, with what was done and overridden so far.
func (s *Server) stepsPDF(w http.ResponseWriter, r *http.Request, v *visit, j *job) error {
	paper, err := j.StepsPaper(paperSize(r))
	return sendPaper(w, paper, err, j.fileName("order of work.pdf"))
}

// stepsPhoto takes a picture in and comes back to the step with it.
func (s *Server) stepsPhoto(w http.ResponseWriter, r *http.Request, v *visit, j *job) error {
	if !isUpload(r) {
		return errNoFile
	}
	e, err := s.receive(w, r, v, j)
	if err != nil {
		return err
	}
	files, err := s.Book.Attachments(r.Context(), j.ID)
	if err != nil {
		return err
	}
	sha := ""
	for _, f := range files {
		if f.Version == book.Version(e.Version) {
			sha = f.SHA256.String()
		}
	}
	return done(w, r, "/job/"+j.ID+"/steps?step="+url.QueryEscape(r.URL.Query().Get("step"))+"&file="+sha)
}
