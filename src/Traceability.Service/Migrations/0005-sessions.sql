-- Browser sessions that run, so that their person sees them and ends them. What a cookie opens is not asked here: a session runs while the database is away.
create table if not exists trace.session (
  id text primary key,
  person text not null,
  stamp text not null,
  browser text not null,
  began_at timestamptz not null,
  seen_at timestamptz not null
);
create index if not exists session_person on trace.session (person, began_at);
