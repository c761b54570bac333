package web

import (
	"bytes"
	"net/http"

	"phasewright/coil"
	"phasewright/record"
)

// sparkRoutes are the addresses of coil, spark and rotor. All are read only: what is tried stands in the query and is recorded nowhere.
func (s *Server) sparkRoutes() {
	s.handle("GET /job/{job}/spark", Look, s.onJob(s.sparkPage))
	s.handle("GET /job/{job}/spark/part", Look, s.onJob(s.sparkPart))
	s.handle("GET /job/{job}/spark.pdf", Look, s.onJob(s.sparkPDF))
	s.handle("GET /job/{job}/dwell.csv", Look, s.onJob(s.dwellCSV))
}

// trySpark works out what the request's query comes to. A card whose spark cannot be worked out gives a body that says why.
func (j *job) trySpark(r *http.Request) (*sparkBody, int, error) {
	if j.Card == nil {
		return &sparkBody{ID: j.ID, NoCard: "Coil, spark and rotor follow from the job card, once that can be used."}, 0, nil
	}
	base, err := j.drawn.spark()
	if why := cannotBe(err); why != nil {
		return &sparkBody{ID: j.ID, Cannot: why}, 0, nil
	} else if err != nil {
		return nil, 0, err
	}
	return base.body(j.ID, r.URL.Query())
}

// sparkPage is the whole page; without script its form asks for it again with other values.
func (s *Server) sparkPage(w http.ResponseWriter, r *http.Request, v *visit, j *job) error {
	body, status, err := j.trySpark(r)
	if err != nil {
		return err
	}
	return s.render(w, r, v, page{View: "spark", Title: j.Name + ", coil, spark and rotor", Where: "Coil and spark", Job: j.head(), Live: true, Version: j.Version, Status: status, Body: body})
}

// sparkPart is what a trial changes on the page, for the sliders.
func (s *Server) sparkPart(w http.ResponseWriter, r *http.Request, v *visit, j *job) error {
	body, status, err := j.trySpark(r)
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
func (s *Server) sparkPDF(w http.ResponseWriter, r *http.Request, v *visit, j *job) error {
	_, err := j.savedSpark()
	if err != nil {
		return err
	}
	paper, err := j.SparkPaper(paperSize(r))
	return sendPaper(w, paper, err, j.fileName("spark.pdf"))
}

// dwellCSV is the dwell needed at 6 to 16 V, to fill a controller's table from.
func (s *Server) dwellCSV(w http.ResponseWriter, r *http.Request, v *visit, j *job) error {
	base, err := j.savedSpark()
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
func (j *job) savedSpark() (*sparkBase, error) {
	if j.Card == nil {
		return nil, record.ErrNoCard
	}
	base, err := j.drawn.spark()
	if why := cannotBe(err); why != nil {
		return nil, say(http.StatusConflict, "The spark cannot be worked out: "+why.Field+", "+why.Found+".", "On the job card, "+why.Remedy+".")
	}
	return base, err
}
