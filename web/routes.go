package web

import "net/http"

// routes is the table of every address, the least role that may use it, and what answers.
func (s *Server) routes() {
	s.mux.Handle("GET /static/{tree}/{name}", s.assets)
	s.handle("GET /pair", Nobody, s.pairPage)
	s.handle("POST /pair", Nobody, s.pairPost)
	s.handle("GET /pair/authority.crt", Nobody, s.authorityFile)
	s.handle("POST /look", Nobody, s.lookPost)
	s.handle("GET /live", Look, s.livePage)

	s.handle("GET /{$}", Look, s.bookPage)
	s.handle("GET /new", Work, s.newPage)
	s.handle("POST /new", Work, s.newPost)

	s.handle("GET /job/{job}", Look, s.onJob(s.jobPage))
	s.handle("POST /job/{job}/note", Work, s.onJob(s.notePost))
	s.handle("POST /job/{job}/shelf", Work, s.shelfPost)
	s.handle("GET /job/{job}/card", Look, s.onJob(s.cardPage))
	s.handle("GET /job/{job}/card/text", Look, s.onJob(s.cardTextPage))
	s.handle("POST /job/{job}/card", Work, s.onJob(s.cardPost))
	s.handle("GET /job/{job}/sheet", Look, s.onJob(s.sheetPage))
	s.sparkRoutes()
	s.stepsRoutes()
	s.suspectsRoutes()
	s.handle("GET /job/{job}/proof", Look, s.onJob(s.proofPage))
	s.handle("POST /job/{job}/proof/sign", Work, s.onJob(s.signPost))
	s.handle("GET /job/{job}/sheet.pdf", Look, s.onJob(s.sheetPDF))
	s.handle("GET /job/{job}/tape.pdf", Look, s.onJob(s.tapePDF))
	s.handle("GET /job/{job}/proof.pdf", Look, s.onJob(s.proofPDF))
	s.handle("GET /job/{job}/readings.csv", Look, s.onJob(s.readingsCSV))
	s.handle("GET /job/{job}/card.yaml", Look, s.onJob(s.cardYAML))
	s.handle("GET /job/{job}/captures", Look, s.onJob(s.capturesPage))
	s.handle("POST /job/{job}/captures", Work, s.onJob(s.capturesPost))
	s.handle("GET /job/{job}/captures/{sha}", Look, s.onRecording(s.capturePage))
	s.handle("POST /job/{job}/captures/{sha}", Work, s.onRecording(s.capturePost))
	s.handle("POST /job/{job}/captures/{sha}/stop", Work, s.onRecording(s.captureStop))
	s.handle("GET /job/{job}/captures/{sha}/recording.pdf", Look, s.onRecording(s.capturePDF))
	s.waveRoutes()
	s.handle("GET /job/{job}/readings", Look, s.onJob(s.readingsPage))
	s.handle("POST /job/{job}/readings", Work, s.onJob(s.readingsPost))
	s.handle("POST /job/{job}/readings/withdraw", Work, s.onJob(s.withdrawPost))
	s.handle("POST /job/{job}/readings/correction", Work, s.onJob(s.correctionPost))

	s.handle("GET /bench", Look, s.benchesPage)
	s.handle("POST /bench", Work, s.benchesPost)
	s.handle("GET /bench/{room}", Look, s.onBench(s.benchPage))
	s.handle("GET /bench/{room}/live", Look, s.onBench(s.benchLive))
	s.handle("POST /bench/{room}/do", Work, s.onBench(s.benchDo))
	s.handle("POST /bench/{room}/judge", Work, s.onBench(s.benchJudge))
	s.handle("POST /bench/{room}/take", Work, s.onBench(s.benchTake))
	s.handle("POST /bench/{room}/away", Work, s.onBench(s.benchAway))
	s.handle("POST /bench/{room}/hide", Instructor, s.onBench(s.benchHide))
	s.handle("POST /bench/{room}/reveal", Instructor, s.onBench(s.benchReveal))
	s.handle("GET /job/{job}/bench", Look, s.onJob(s.jobBenchPage))

	s.handle("GET /devices", Instructor, s.devicesPage)
	s.handle("POST /devices/code", Instructor, s.devicesCode)
	s.handle("POST /devices/name", Instructor, s.devicesName)
	s.handle("POST /devices/remove", Instructor, s.devicesRemove)
	s.handle("POST /devices/role", Instructor, s.devicesRole)

	s.handle("/", Look, func(w http.ResponseWriter, r *http.Request, v *visit) error {
		return say(http.StatusNotFound, "There is no such page.", "Go to the shop book and open the job from there.")
	})
}
