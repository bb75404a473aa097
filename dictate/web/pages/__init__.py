"""One file for each subject of pages: functions from a request to a page."""
