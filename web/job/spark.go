package job

import (
	"bytes"
	"net/http"

	"phasewright/coil"
	"phasewright/record"
	"phasewright/web/page"
	"phasewright/web/shelf"
)

// trySpark works out what the request's query comes to. All is read only: what is tried stands in the query and is
// recorded nowhere. A card whose spark cannot be worked out gives a body that says why.
func (r *Room) trySpark(q *page.Request, j *shelf.Job) (*sparkBody, int, error) {
	if j.Card == nil {
		return &sparkBody{ID: j.ID, NoCard: "Coil, spark and rotor follow from the job card, once that can be used."},
			0, nil
	}
	saved, err := r.drawingsOf(j).spark()
	if why := cannotBe(err); why != nil {
		return &sparkBody{ID: j.ID, Cannot: why}, 0, nil
	} else if err != nil {
		return nil, 0, err
	}
	return saved.try(j.ID, q.URL.Query())
}

// sparkPage is the whole page; without script its form asks for it again with other values.
func (r *Room) sparkPage(q *page.Request, j *shelf.Job) error {
	body, status, err := r.trySpark(q, j)
	if err != nil {
		return err
	}
	p := j.Page("spark", "coil, spark and rotor", "Coil and spark", body)
	p.Status = status
	return q.Render(p)
}

// sparkPart is what a trial changes on the page, for the sliders.
func (r *Room) sparkPart(q *page.Request, j *shelf.Job) error {
	if j.Card == nil {
		return record.ErrNoCard
	}
	body, status, err := r.trySpark(q, j)
	if err != nil {
		return err
	}
	return q.Part("spark", "spark-part", status, body)
}

// sparkPDF is the paper on coil, spark and rotor of the card as it is saved.
func (r *Room) sparkPDF(q *page.Request, j *shelf.Job) error {
	if _, err := r.savedSpark(j); err != nil {
		return err
	}
	paper, err := j.SparkPaper(q.PaperSize())
	return q.SendPaper(paper, err, j.FileName("spark.pdf"))
}

// dwellCSV is the dwell needed at 6 to 16 V, to fill a controller's table from.
func (r *Room) dwellCSV(q *page.Request, j *shelf.Job) error {
	saved, err := r.savedSpark(j)
	if err != nil {
		return err
	}
	rows, ok := saved.DwellTable()
	if !ok {
		return page.Say(http.StatusConflict,
			"There is no dwell table: the card has no coil that the controller charges.",
			"Write the coil section on the job card; a spark box charges itself.")
	}
	var b bytes.Buffer
	err = coil.WriteDwell(&b, rows)
	return q.SendFile("text/csv; charset=utf-8", j.FileName("dwell.csv"), b.Bytes(), err)
}

// savedSpark is the spark of the card as it is saved.
func (r *Room) savedSpark(j *shelf.Job) (*savedSpark, error) {
	if j.Card == nil {
		return nil, record.ErrNoCard
	}
	saved, err := r.drawingsOf(j).spark()
	if why := cannotBe(err); why != nil {
		return nil, page.Say(http.StatusConflict,
			"The spark cannot be worked out: "+why.Field+", "+why.Found+".", "On the job card, "+why.Remedy+".")
	}
	return saved, err
}
