package web

import (
	"net/http"
	"strings"
)

// isUpload says whether the request carries a file; those are bounded where they are read.
func isUpload(r *http.Request) bool {
	return strings.HasPrefix(r.Header.Get("Content-Type"), "multipart/form-data")
}
