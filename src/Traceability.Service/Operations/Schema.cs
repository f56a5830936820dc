using Npgsql;

namespace Traceability.Service.Operations;

/// <summary>The service's own tables beside Marten's: exact bytes, the link index, stale marks, what could not be recorded.</summary>
public static class Schema
{
    private const string Ddl = """
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
        """;

    /// <summary>Waits for this process's turn to make tables; it ends when the connection is disposed.</summary>
    public static async Task<NpgsqlConnection> TurnAsync(NpgsqlDataSource source, CancellationToken cancel)
    {
        var connection = await source.OpenConnectionAsync(cancel);
        try
        {
            // A lock of the transaction, which ends when the connection is given back; a lock of the session would stay in the pool.
            await using var command = new NpgsqlCommand("begin; select pg_advisory_xact_lock(7205132)", connection);
            await command.ExecuteNonQueryAsync(cancel);
            return connection;
        }
        catch
        {
            await connection.DisposeAsync();
            throw;
        }
    }

    /// <summary>Creates what is missing. Several processes may start at once; one does it, the others wait.</summary>
    public static async Task ApplyAsync(NpgsqlDataSource source, CancellationToken cancel)
    {
        await using var connection = await source.OpenConnectionAsync(cancel);
        await using var transaction = await connection.BeginTransactionAsync(cancel);
        await using var command = new NpgsqlCommand("select pg_advisory_xact_lock(7205131);" + Ddl + Assembling.ReachRows.Ddl + Log.LogSchema.Ddl + People.EnrolmentCodes.Ddl + People.SignOns.Ddl + People.Attempts.Ddl + People.Sessions.Ddl + Decisions.Letters.Ddl + Packets.PacketStore.Ddl, connection, transaction);
        await command.ExecuteNonQueryAsync(cancel);
        await transaction.CommitAsync(cancel);
    }
}
