-- The tables as they stood when migrations were first numbered. A database made before then has most of them: each statement leaves what is there.
-- A number that was released is never changed; what comes later is a number of its own.

-- Exact bytes, the link index, stale marks, what could not be recorded, judgements kept with decisions.
create schema if not exists trace;

create table if not exists trace.recorder (
    one boolean primary key default true check (one),
    last_recorded_at timestamptz not null default '-infinity'
);
insert into trace.recorder default values on conflict do nothing;

create table if not exists trace.record (
    position bigint primary key,
    id uuid not null unique,
    source text not null,
    event_id text not null,
    type text not null,
    stream text not null,
    content_hash text not null,
    leaf_hash bytea not null,
    bytes bytea not null,
    device text not null,
    person text null,
    occurred_at timestamptz not null,
    recorded_at timestamptz not null,
    conflict_of uuid null,
    trace_parent text null
);
create index if not exists record_recorded_at on trace.record (recorded_at, position);
create index if not exists record_conflict_of on trace.record (conflict_of) where conflict_of is not null;
drop index if exists trace.record_outside_units;
create index if not exists record_outside_of_units on trace.record (type, position)
    where type in ('lot.received.v1', 'lot.certified.v1', 'person.certified.v1', 'instrument.calibrated.v1', 'mix.approved.v1', 'source.approved.v1', 'plant.approved.v1');

create index if not exists record_of_rules on trace.record (type, position)
    where type in ('profile.published.v1', 'profile.confirmed.v1', 'profile.adopted.v1', 'contract.opened.v1');

create table if not exists trace.about (
    subject text not null,
    position bigint not null,
    primary key (subject, position)
);
create index if not exists about_position on trace.about (position, subject);

create table if not exists trace.link (
    from_subject text not null,
    kind smallint not null,
    to_subject text not null,
    position bigint not null,
    possible boolean not null,
    primary key (from_subject, kind, to_subject, possible)
);
-- Tables made before a link could be both certain and possible had a key without possible.
do $f$
declare old name;
begin
    select conname into old from pg_constraint where conrelid = 'trace.link'::regclass and contype = 'p' and array_length(conkey, 1) = 3;
    if found then
        execute format('alter table trace.link drop constraint %I, add primary key (from_subject, kind, to_subject, possible)', old);
    end if;
end $f$;
create index if not exists link_to on trace.link (to_subject, from_subject);

create table if not exists trace.stale_unit (
    unit text primary key,
    since_position bigint not null,
    priority smallint not null,
    marked_at timestamptz not null default now()
);

create index if not exists stale_unit_order on trace.stale_unit (priority, marked_at, unit);

create or replace function trace.tell_stale() returns trigger language plpgsql as $f$ begin perform pg_notify('trace_stale', ''); return null; end $f$;
create or replace trigger tell_stale after insert on trace.stale_unit for each statement execute function trace.tell_stale();

create table if not exists trace.quarantine (
    id uuid not null,
    content_hash text not null,
    source text not null,
    event_id text not null,
    type text not null,
    device text not null,
    person text null,
    assurance text not null,
    reason text not null,
    bytes bytea not null,
    received_at timestamptz not null,
    cleared_by text null,
    cleared_at timestamptz null,
    primary key (id, content_hash)
);

alter table trace.quarantine add column if not exists waits_for text not null default 'administrator';
create index if not exists quarantine_waiting on trace.quarantine (waits_for, received_at) where cleared_at is null;

create table if not exists trace.parked (
    id uuid not null,
    content_hash text not null,
    source text not null,
    event_id text not null,
    type text not null,
    device text not null,
    assurance text not null,
    reason text not null,
    bytes bytea not null,
    received_at timestamptz not null,
    parked_at timestamptz not null,
    redriven_at timestamptz null,
    primary key (id, content_hash)
);

create table if not exists trace.scenario_clock (
    one boolean primary key default true check (one),
    offset_ticks bigint not null
);

create table if not exists trace.judgement (
    hash text primary key,
    bytes bytea not null
);

-- What units reach, for recall.
do $f$ begin
if to_regclass('trace.unit_card') is null then
    create table trace.unit_card (
        no int generated always as identity primary key,
        unit text collate "C" not null unique,
        phase text not null,
        mark text null,
        contract text null,
        place text null,
        delivery text null,
        destination text null,
        position bigint not null,
        reach uuid not null
    );
    create table trace.reach (
        subject text collate "C" not null,
        unit_no int not null,
        how smallint not null,
        certain boolean not null,
        named boolean not null,
        primary key (subject, unit_no) include (how, certain, named)
    );
    create index reach_unit on trace.reach (unit_no);
    -- The statistics of a large table say nothing about one subject; index-only reading needs its map kept up.
    alter table trace.reach set (autovacuum_vacuum_insert_scale_factor = 0.05, autovacuum_vacuum_scale_factor = 0.05);
    insert into trace.stale_unit (unit, since_position, priority)
        select subject, max(position), 3 from trace.about where subject like 'unit:%' group by subject order by subject
        on conflict (unit) do nothing;
end if;
end $f$;

-- The log. log_leaf is the log; tiles are derived from it and can be made again. A tile holds the 256 nodes of level 8 x "level" from 256 x "index" on; level 0 has whole tiles only, higher levels grow.
create schema if not exists trace;

create table if not exists trace.log_leaf (
    index bigint primary key check (index >= 0),
    position bigint not null,
    record_id uuid not null unique,
    hash bytea not null check (octet_length(hash) = 32)
);

create table if not exists trace.log_tile (
    level int not null,
    index bigint not null,
    hashes bytea not null check (octet_length(hashes) between 32 and 8192),
    primary key (level, index)
);

create table if not exists trace.checkpoint (
    origin text not null,
    size bigint not null,
    root bytea not null check (octet_length(root) = 32),
    note text not null,
    sealed_at timestamptz not null,
    primary key (origin, size)
);

create table if not exists trace.log_origin (
    ordinal int primary key,
    origin text not null unique,
    first_leaf bytea,
    started_at timestamptz not null
);

alter table trace.log_origin add column if not exists succession text;

create table if not exists trace.cosignature (
    origin text not null,
    size bigint not null,
    witness text not null,
    key_id bytea not null,
    line text not null,
    cosigned_at timestamptz not null,
    received_at timestamptz not null,
    primary key (origin, size, witness, key_id)
);

create table if not exists trace.log_leaf_superseded (
    origin text not null,
    index bigint not null,
    position bigint not null,
    record_id uuid not null,
    hash bytea not null,
    primary key (origin, index)
);

-- Enrolment codes of kiosks.
create table if not exists trace.enrolment_code (
    hash text primary key,
    roles text[] not null,
    made_by text not null,
    valid_until timestamptz not null
);

-- Where people signed on lately.
create table if not exists trace.sign_on (
    person text not null,
    device text not null,
    at timestamptz not null,
    primary key (person, device)
);

-- Wrong tries at secrets.
create table if not exists trace.attempt (
    key text primary key,
    wrong integer not null,
    last_at timestamptz not null
);

-- Sessions ended before their time.
create table if not exists trace.session_ended (
    id text primary key,
    ended_at timestamptz not null
);

-- Letters, by their hash.

create table if not exists trace.document (
    sha256 text primary key,
    media_type text not null,
    bytes bytea not null,
    kept_by text not null,
    kept_at timestamptz not null
);

-- Packets and certificates.

create sequence if not exists trace.packet_number;

create table if not exists trace.packet (
    id text primary key,
    issued_at timestamptz not null,
    issued_by text not null,
    draft boolean not null,
    contract text not null,
    units text[] not null,
    open_items int not null,
    sha256 text not null,
    zip bytea not null
);

alter table trace.packet add column if not exists supplement_to text null, add column if not exists supplement_number int null,
    add column if not exists pending jsonb not null default '[]', add column if not exists answers jsonb null,
    add column if not exists signed boolean null;
-- Packets of before were signed when they were kept; drafts count as what they are.
update trace.packet set signed = not draft where signed is null;
alter table trace.packet alter column signed set not null;

create table if not exists trace.load_certificate (
    delivery text not null,
    number int not null,
    issued_at timestamptz not null,
    issued_by text not null,
    contract text not null,
    units text[] not null,
    exceptions int not null,
    sha256 text not null,
    record uuid not null,
    pdf bytea not null,
    primary key (delivery, number)
);

create table if not exists trace.manifest (
    packet text primary key,
    bytes bytea not null,
    signature bytea null,
    refused text null
);
alter table trace.manifest add column if not exists record uuid null, add column if not exists answered_at timestamptz null;

create table if not exists trace.log_key (
    origin text primary key,
    public_key bytea not null check (octet_length(public_key) = 32)
);
