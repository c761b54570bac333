package webtest

import (
	"bytes"
	"io"
	"mime/multipart"
	"net/http"
	"testing"
)

// Recording is a capture of the bench running the Sandpiper card up through its speeds.
func Recording(t testing.TB) []byte {
	t.Helper()
	return Run{Seconds: 20}.Record(t)
}

// Upload is a form with one file, as a browser sends it.
func Upload(target, from, name string, data io.Reader) *http.Request {
	return UploadKeyed(target, from, "k1", name, data)
}

func UploadKeyed(target, from, key, name string, data io.Reader) *http.Request {
	var body bytes.Buffer
	m := multipart.NewWriter(&body)
	m.WriteField("key", key)
	part, _ := m.CreateFormFile("file", name)
	io.Copy(part, data)
	m.Close()
	r := Request("POST", target, from, nil)
	r.Body, r.ContentLength = io.NopCloser(&body), int64(body.Len())
	r.Header.Set("Content-Type", m.FormDataContentType())
	return r
}

func (s *Shop) Settle() {
	s.Recording.Wait()
}

type Zeros struct{}

func (Zeros) Read(b []byte) (int, error) { clear(b); return len(b), nil }
