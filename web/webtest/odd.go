package webtest

import (
	"bytes"
	"strings"
)

// JobPages are the addresses of every page of a job.
func (s *Shop) JobPages(job, sha string) []string {
	s.T.Helper()
	var out []string
	for _, pattern := range s.Shelf.Patterns {
		if path, is := strings.CutPrefix(pattern, "GET /job/{job}"); is {
			out = append(out, "/job/"+job+strings.ReplaceAll(path, "{sha}", sha))
		}
	}
	if len(out) < 20 {
		s.T.Fatalf("only %d pages found", len(out))
	}
	return out
}

// Stands asks for pages of a job and says which fail.
func (s *Shop) Stands(job, sha, after string, only func(page string) bool) {
	s.T.Helper()
	for _, page := range s.JobPages(job, sha) {
		if !only(page) {
			continue
		}
		w := s.Get(page)
		// a packed file holds any three letters by chance
		packed := strings.HasSuffix(page, ".pdf") || strings.HasSuffix(page, ".zip")
		if w.Code >= 500 || bytes.Contains(w.Body.Bytes(), []byte("NaN")) && !packed {
			s.T.Errorf("%s\n%s answers %d: %.300s", after, strings.ReplaceAll(page, job, "JOB"), w.Code,
				HTMLText(w.Body.String()))
		}
	}
}
