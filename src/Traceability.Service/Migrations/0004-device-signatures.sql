-- What a device signed of a fact waits beside it while the fact is set apart, and goes into its record with it.
alter table trace.quarantine add column if not exists signature_key text, add column if not exists signature text;
alter table trace.parked add column if not exists signature_key text, add column if not exists signature text;
