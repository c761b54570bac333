package record

import (
	"archive/zip"
	"bytes"
	"cmp"
	"fmt"
	"io"
	"path"
	"strings"

	"phasewright/book"
	"phasewright/drawing"
	"phasewright/report"
)

// HandOver writes everything of a job for whoever owns the engine, as one zip file: the papers, the data behind them,
// and every recording and photo under the name that it came with. A text says what is in it and what is not, and why.
// The same job at the same version gives the same bytes.
//
// Errors are those of w and of reading what is kept; a paper that cannot be made yet is told in the text.
func (j *Job) HandOver(w io.Writer, kept Files, size drawing.SheetSize) error {
	h := handOver{zip: zip.NewWriter(w), job: j, taken: map[string]bool{}}
	if err := h.papers(kept, size); err != nil {
		return err
	}
	if err := h.data(kept); err != nil {
		return err
	}
	for _, f := range kept.List {
		if err := h.file(kept, f); err != nil {
			return err
		}
	}
	if err := h.add("read me first.txt", zip.Deflate, strings.NewReader(h.says())); err != nil {
		return err
	}
	return h.zip.Close()
}

type handOver struct {
	zip   *zip.Writer
	job   *Job
	taken map[string]bool // names in the zip file, in lower case: some computers take "A" for "a"
	here  []string
	not   []string
}

func (h *handOver) papers(kept Files, size drawing.SheetSize) error {
	j := h.job
	proof := func() (*report.Paper, error) { return j.ProofPaper(kept, size) }
	sized := func(make func(drawing.SheetSize) (*report.Paper, error)) func() (*report.Paper, error) {
		return func() (*report.Paper, error) { return make(size) }
	}
	all := []struct {
		name string
		make func() (*report.Paper, error)
	}{{"proof", proof}, {"set-up sheet", sized(j.SetUpPaper)}, {"order of work", sized(j.StepsPaper)},
		{"coil, spark and rotor", sized(j.SparkPaper)}, {"timing tape", sized(j.TapePaper)}}
	seen := map[book.Hash]bool{}
	for _, f := range kept.List {
		if res := j.Captures[f.SHA256]; res != nil && !seen[f.SHA256] {
			seen[f.SHA256] = true
			all = append(all, struct {
				name string
				make func() (*report.Paper, error)
			}{"recording " + f.Name, func() (*report.Paper, error) { return j.CapturePaper(res, size) }})
		}
	}
	for _, p := range all {
		paper, err := p.make()
		var data []byte
		if err == nil {
			data, err = paper.PDF()
		}
		if err != nil {
			h.not = append(h.not, p.name+": "+err.Error())
			continue
		}
		if err := h.add("papers/"+p.name+".pdf", zip.Deflate, bytes.NewReader(data)); err != nil {
			return err
		}
	}
	return nil
}

func (h *handOver) data(kept Files) error {
	j := h.job
	if j.YAML != "" {
		if err := h.add("data/job card.yaml", zip.Deflate, strings.NewReader(j.YAML)); err != nil {
			return err
		}
	}
	if len(j.Readings) > 0 {
		var table bytes.Buffer
		if err := j.Table().Write(&table); err != nil {
			return err
		}
		if err := h.add("data/readings.csv", zip.Deflate, &table); err != nil {
			return err
		}
	}
	return h.put("data/job for a shop book.zip", zip.Store, kept.Export)
}

func (h *handOver) file(kept Files, f book.Attachment) error {
	if !f.Discarded.IsZero() {
		h.not = append(h.not, fmt.Sprintf("%s: its content was thrown away on %s; SHA-256 %s", f.Name,
			f.Discarded.Format(minute), f.SHA256))
		return nil
	}
	r, _, err := kept.Open(f.SHA256)
	if err != nil {
		return err
	}
	defer r.Close()
	method := zip.Deflate
	if t, _, _ := strings.Cut(f.MediaType, "/"); t == "image" || t == "video" {
		method = zip.Store // packed already
	}
	return h.add("recordings and photos/"+f.Name, method, r)
}

func (h *handOver) add(name string, method uint16, r io.Reader) error {
	return h.put(name, method, func(w io.Writer) error {
		_, err := io.Copy(w, r)
		return err
	})
}

// put takes a file in under a name that every computer takes and that none has yet.
func (h *handOver) put(name string, method uint16, write func(io.Writer) error) error {
	name = strings.Map(func(r rune) rune {
		if strings.ContainsRune(`<>:"|?*\`, r) || r < ' ' {
			return '_'
		}
		return r
	}, name)
	end := path.Ext(name)
	for n, stem := 2, strings.TrimSuffix(name, end); h.taken[strings.ToLower(name)]; n++ {
		name = fmt.Sprintf("%s (%d)%s", stem, n, end)
	}
	h.taken[strings.ToLower(name)] = true
	h.here = append(h.here, name)
	w, err := h.zip.CreateHeader(&zip.FileHeader{Name: name, Method: method, Modified: h.job.LastAt})
	if err != nil {
		return err
	}
	return write(w)
}

// says is the text that lies on top.
func (h *handOver) says() string {
	j := h.job
	var b strings.Builder
	fmt.Fprintf(&b, "%s\r\n", j.Name)
	for _, line := range []struct{ label, value string }{{"engine", j.Engine}, {"owner", j.Owner}, {"shop", j.Shop},
		{"as of", j.LastAt.Format(minute)}, {"entries", fmt.Sprint(j.Version)}, {"hash of the last", j.Head.String()}} {
		fmt.Fprintf(&b, "%s: %s\r\n", line.label, cmp.Or(line.value, "not given"))
	}
	fmt.Fprintf(&b, "\r\nIn this file:\r\n  %s\r\n", strings.Join(h.here, "\r\n  "))
	if len(h.not) > 0 {
		fmt.Fprintf(&b, "\r\nNot in this file:\r\n  %s\r\n", strings.Join(h.not, "\r\n  "))
	}
	b.WriteString("\r\nThe papers are PDF files and print at true scale.\r\n\"job for a shop book.zip\" holds all " +
		"entries. Another shop book takes it in: phasewright book import FILE.\r\n")
	return b.String()
}
