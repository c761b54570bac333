module phasewright/compare

go 1.26.0

require phasewright v0.0.0

require (
	github.com/klauspost/compress v1.20.4 // indirect
	golang.org/x/sys v0.50.0 // indirect
	gonum.org/v1/gonum v0.17.0 // indirect
)

replace phasewright => ../..
