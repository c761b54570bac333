package web

import (
	"bytes"
	"net/http"

	"phasewright/coil"
	"phasewright/record"
)

// sparkRoutes are the addresses of coil, spark and rotor. All are read only: what is tried stands in the query and is recorded nowhere.
func (s *Server) sparkRoutes() {
	s.handle("GET /job/{job}/spark", Look, s.sparkPage)
	s.handle("GET /job/{job}/spark/part", Look, s.sparkPart)
	s.handle("GET /job/{job}/spark.pdf", Look, s.sparkPDF)
	s.handle("GET /job/{job}/dwell.csv", Look, s.dwellCSV)
}

// trySpark works out what the request's query comes to. A card whose spark cannot be worked out gives a body that says why.
func (s *Server) trySpark(r *http.Request) (*job, *sparkBody, int, error) {
	j, err := s.jobs.get(r.Context(), r.PathValue("job"))
	if err != nil {
		return nil, nil, 0, err
	}
	if j.Card == nil {
		return j, &sparkBody{ID: j.ID, NoCard: "Coil, spark and rotor follow from the job card, once that can be used."}, 0, nil
	}
	base, err := j.drawn.spark()
	if why := cannotBe(err); why != nil {
		return j, &sparkBody{ID: j.ID, Cannot: why}, 0, nil
	} else if err != nil {
		return nil, nil, 0, err
	}
	body, status, err := base.body(j.ID, r.URL.Query())
	return j, body, status, err
}

// sparkPage is the whole page; without script its form asks for it again with other values.
func (s *Server) sparkPage(w http.ResponseWriter, r *http.Request, v *visit) error {
	j, body, status, err := s.trySpark(r)
	if err != nil {
		return err
	}
	return s.render(w, r, v, page{View: "spark", Title: j.Name + ", coil, spark and rotor", Where: "Coil and spark", Job: j.head(), Live: true, Version: j.Version, Status: status, Body: body})
}

// sparkPart is what a trial changes on the page, for the sliders.
func (s *Server) sparkPart(w http.ResponseWriter, r *http.Request, v *visit) error {
	_, body, status, err := s.trySpark(r)
	if err == nil && body.NoCard != "" {
		err = record.ErrNoCard
	}
	if err != nil {
		return err
	}
	buf := bufferPool.Get().(*bytes.Buffer)
	defer bufferPool.Put(buf)
	buf.Reset()
	if err := s.views["spark"].t.ExecuteTemplate(buf, "spark-part", body); err != nil {
		return err
	}
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	return send(w, r, status, buf.Bytes())
}

// sparkPDF is the paper on coil, spark and rotor of the card as it is saved.
func (s *Server) sparkPDF(w http.ResponseWriter, r *http.Request, v *visit) error {
	j, _, err := s.savedSpark(r)
	if err != nil {
		return err
	}
	paper, err := j.SparkPaper(paperSize(r))
	return sendPaper(w, paper, err, j.fileName("spark.pdf"))
}

// dwellCSV is the dwell needed at 6 to 16 V, to fill a controller's table from.
func (s *Server) dwellCSV(w http.ResponseWriter, r *http.Request, v *visit) error {
	j, base, err := s.savedSpark(r)
	if err != nil {
		return err
	}
	rows, ok := base.kase.DwellTable()
	if !ok {
		return say(http.StatusConflict, "There is no dwell table: the card has no coil that the controller charges.", "Write the coil section on the job card; a spark box charges itself.")
	}
	var b bytes.Buffer
	if err := coil.WriteDwell(&b, rows); err != nil {
		return err
	}
	sendFile(w, "text/csv; charset=utf-8", j.fileName("dwell.csv"), b.Bytes())
	return nil
}

// savedSpark is the spark of the card as it is saved.
func (s *Server) savedSpark(r *http.Request) (*job, *sparkBase, error) {
	j, err := s.jobs.get(r.Context(), r.PathValue("job"))
	if err != nil {
		return nil, nil, err
	}
	if j.Card == nil {
		return nil, nil, record.ErrNoCard
	}
	base, err := j.drawn.spark()
	if why := cannotBe(err); why != nil {
		return nil, nil, say(http.StatusConflict, "The spark cannot be worked out: "+why.Field+", "+why.Found+".", "On the job card, "+why.Remedy+".")
	}
	return j, base, err
}
