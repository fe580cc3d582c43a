package api

import (
	"bytes"
	"fmt"
	"io"

	"github.com/gin-gonic/gin"

	"wainscot/api/paper"
)

// getJobCard gives the card that goes with the van.
func (s *Server) getJobCard(c *gin.Context) error {
	return s.jobOnPaper(c, kindPDF, "job-card-%d.pdf", paper.JobCardPDF)
}

// getPickListCSV gives what to take from the rack as CSV.
func (s *Server) getPickListCSV(c *gin.Context) error {
	return s.jobOnPaper(c, kindCSV, "pick-list-%d.csv", paper.PickListCSV)
}

// getPickListXLSX gives the same as a workbook.
func (s *Server) getPickListXLSX(c *gin.Context) error {
	return s.jobOnPaper(c, kindXLSX, "pick-list-%d.xlsx", paper.PickListXLSX)
}

func (s *Server) jobOnPaper(c *gin.Context, kind, name string, write func(io.Writer, paper.JobCard) error) error {
	id, err := pathID(c, "job")
	if err != nil {
		return err
	}
	b, err := s.buildOf(c, id)
	if err != nil {
		return err
	}
	card := paper.JobCard{Plan: &b.plan, Issued: b.Content.Used, BuildSheet: paper.BuildSheet{
		Sheet: *b.sheet, Catalogue: b.catalogue, Title: fmt.Sprintf("Job %d", b.Number), Day: b.today, Van: paper.VanWords{Registration: b.plate},
	}}
	var out bytes.Buffer
	if err := write(&out, card); err != nil {
		return fmt.Errorf("job %d on paper: %w", b.Number, err)
	}
	return sendFile(c, kind, fmt.Sprintf(name, b.Number), out.Bytes())
}
