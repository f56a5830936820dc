-- A device's numbering is read off everything that came of it, on a page: without these every record would be looked through.
create index if not exists record_device on trace.record (device);
create index if not exists quarantine_device on trace.quarantine (device);
create index if not exists parked_device on trace.parked (device);
