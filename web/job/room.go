// Package job is the pages of jobs: the list of them, and for each its card, set-up sheet, order of work, readings,
// proof, suspects and spark, on the screen and on paper.
package job

import (
	"bytes"
	"fmt"
	"net/http"
	"slices"
	"sync"

	"phasewright/book"
	"phasewright/procedure"
	"phasewright/quantity"
	"phasewright/record"
	"phasewright/report"
	"phasewright/web/page"
	"phasewright/web/recording"
	"phasewright/web/shelf"
)

// Room is the pages of jobs.
type Room struct {
	*shelf.Shelf
	recordings *recording.Room // takes the photos of steps in

	mu    sync.Mutex
	drawn map[string]*drawings // by job
}

// New makes the room.
func New(s *shelf.Shelf, recordings *recording.Room) *Room {
	return &Room{Shelf: s, recordings: recordings, drawn: map[string]*drawings{}}
}

// Routes are the addresses of the jobs' pages.
func (r *Room) Routes() {
	r.Handle("GET /{$}", page.Look, r.listPage)
	r.Handle("GET /done", page.Look, r.donePage)
	r.Handle("GET /jobs.pdf", page.Look, r.listPDF)
	r.Handle("POST /bay", page.Look, r.bayPost)
	r.Handle("GET /new", page.Work, r.newPage)
	r.Handle("POST /new", page.Work, r.newPost)
	r.Handle("GET /instruments", page.Look, r.instrumentsPage)
	r.Handle("POST /instruments", page.Work, r.instrumentsPost)
	see := func(path string, h func(*page.Request, *shelf.Job) error) {
		r.Handle("GET /job/{job}"+path, page.Look, r.OnJob(h))
	}
	do := func(path string, h func(*page.Request, *shelf.Job) error) {
		r.Handle("POST /job/{job}"+path, page.Work, r.OnJob(h))
	}
	work := func(path string, h func(*page.Request, *shelf.Job) error) {
		r.Handle("POST /job/{job}"+path, page.Work, r.OnOpenJob(h))
	}
	see("", r.frontPage)
	see("/everything.zip", r.handOver)
	do("/describe", r.describePost)
	do("/waiting", r.waitingPost)
	do("/note", r.notePost)
	r.Handle("POST /job/{job}/forget", page.Instructor, r.OnJob(r.forgetPost))
	r.Handle("POST /job/{job}/shelf", page.Work, r.shelfPost)
	see("/card", r.cardPage)
	see("/card/text", r.cardTextPage)
	see("/card.yaml", cardYAML)
	work("/card", r.cardPost)
	see("/sheet", r.sheetPage)
	see("/sheet.pdf", sheetPDF)
	see("/tape.pdf", tapePDF)
	see("/spark", r.sparkPage)
	see("/spark/part", r.sparkPart)
	see("/spark.pdf", r.sparkPDF)
	see("/dwell.csv", r.dwellCSV)
	see("/leads", r.leadsPage)
	see("/leads.pdf", r.leadsPDF)
	see("/do", r.doPage)
	see("/steps", r.stepsPage)
	see("/steps.pdf", stepsPDF)
	see("/readings-form.pdf", readingsFormPDF)
	see("/card-form.pdf", cardFormPDF)
	work("/steps", r.stepsPost)
	work("/steps/photo", r.photoPost)
	r.Handle("GET /job/{job}/photo/{sha}", page.Look, r.OnFile(r.photo))
	see("/readings", r.readingsPage)
	see("/readings.csv", readingsCSV)
	work("/readings", r.readingsPost)
	work("/readings/withdraw", r.withdrawPost)
	work("/readings/confirm", r.confirmPost)
	work("/readings/correction", r.correctionPost)
	see("/instruments", r.usedPage)
	work("/instruments", r.usedPost)
	see("/suspects", r.suspectsPage)
	see("/suspects/part", r.suspectsPart)
	work("/suspects", r.suspectsPost)
	see("/proof", r.proofPage)
	see("/proof.pdf", r.proofPDF)
	do("/proof/sign", r.signPost)
}

func sheetPDF(q *page.Request, j *shelf.Job) error {
	paper, err := j.SetUpPaper(q.PaperSize())
	return q.SendPaper(paper, err, j.FileName("set-up sheet.pdf"))
}

// tapePDF is the true-scale timing tape of the job's damper.
func tapePDF(q *page.Request, j *shelf.Job) error {
	paper, err := j.TapePaper(q.PaperSize())
	return q.SendPaper(paper, err, j.FileName("timing tape.pdf"))
}

// stepsPDF is the order of work on paper, with what was done and overridden so far.
func stepsPDF(q *page.Request, j *shelf.Job) error {
	paper, err := j.StepsPaper(q.PaperSize())
	return q.SendPaper(paper, err, j.FileName("order of work.pdf"))
}

// readingsFormPDF is a blank form for light readings of the job's engine.
func readingsFormPDF(q *page.Request, j *shelf.Job) error {
	paper, err := j.ReadingsForm(q.PaperSize())
	return q.SendPaper(paper, err, j.FileName("readings, blank.pdf"))
}

// cardFormPDF is a blank job card, in the unit of length of this job's shop.
func cardFormPDF(q *page.Request, j *shelf.Job) error {
	var shop quantity.LengthUnit
	if j.Card != nil {
		shop = j.Card.Job.Units
	}
	return q.SendPaper(report.CardForm(shop, report.Stamp{Paper: q.PaperSize()}), nil, "job card, blank.pdf")
}

func (r *Room) proofPDF(q *page.Request, j *shelf.Job) error {
	files, err := record.FilesOf(q.Context(), r.Book, j.ID)
	if err != nil {
		return err
	}
	of, name := j.Job, "proof.pdf"
	if version := q.URL.Query().Get("signed"); version != "" {
		i := slices.IndexFunc(j.Superseded, func(s record.Superseded) bool { return fmt.Sprint(s.Version) == version })
		if i < 0 {
			return page.Say(http.StatusNotFound, "No proof of this job was signed there.",
				"Open the proof. It lists the signed ones.")
		}
		of, name = j.AsSigned(j.Superseded[i]), "proof, superseded.pdf"
	}
	paper, err := of.ProofPaper(files, q.PaperSize())
	return q.SendPaper(paper, err, j.FileName(name))
}

func readingsCSV(q *page.Request, j *shelf.Job) error {
	var b bytes.Buffer
	err := j.Table().Write(&b)
	return q.SendFile("text/csv; charset=utf-8", j.FileName("readings.csv"), b.Bytes(), err)
}

func cardYAML(q *page.Request, j *shelf.Job) error {
	return q.SendFile("application/yaml", j.FileName("job card.yaml"), []byte(j.YAML), nil)
}

// photoPost takes a picture in and comes back to the step with it.
func (r *Room) photoPost(q *page.Request, j *shelf.Job) error {
	f, err := r.recordings.Receive(q, j)
	if err != nil {
		return err
	}
	return q.Done(j.StepPath(procedure.StepID(q.URL.Query().Get("step"))) + "&file=" + f.SHA256.String())
}

// shelfPost puts a finished job away, or takes one up again that was put away or signed long ago. Nothing of it is lost
// either way.
func (r *Room) shelfPost(q *page.Request) error {
	line, err := r.Book.Job(q.Context(), q.PathValue("job"))
	if err != nil {
		return err
	}
	kind, to := book.KindJobArchived, "/"
	if line.Archived || q.PostForm.Get("up") != "" {
		kind, to = book.KindJobReopened, "/job/"+line.ID
	}
	reason := map[string]string{"reason": page.CleanName(q.PostForm.Get("reason"))}
	if err := r.Append(q, line.ID, kind, q.PostForm.Get("key"), reason); err != nil {
		return err
	}
	return q.Done(to)
}
