using Npgsql;

namespace Traceability.Service.Operations;

/// <summary>
/// What the roles of the database may that the service and its signer connect as, where they are not the one that migrates. Neither changes nor deletes a record, an event
/// or a leaf, and neither makes or drops a table; the service signs nothing, and the signer records nothing.
/// </summary>
public static class DatabaseRoles
{
    private const string Read = "select", Add = "select, insert", Keep = "select, insert, update", All = "select, insert, update, delete";

    /// <summary>Of intake, pages, recorder, assembler and projections.</summary>
    public static IReadOnlyDictionary<string, string> Service { get; } = new Dictionary<string, string>(StringComparer.Ordinal)
    {
        ["trace.record"] = Add, ["trace.recorder"] = Keep, ["trace.about"] = Add, ["trace.link"] = Add, ["trace.judgement"] = Add,
        ["trace.stale_unit"] = All, ["trace.unit_card"] = All, ["trace.reach"] = All, ["trace.scenario_clock"] = Keep,
        ["trace.quarantine"] = Keep, ["trace.parked"] = Keep,
        // The worker gives each record its leaf; what they hash to is the signer's.
        ["trace.log_leaf"] = Add, ["trace.log_tile"] = Read, ["trace.checkpoint"] = Read, ["trace.log_origin"] = Read, ["trace.log_leaf_superseded"] = Read, ["trace.log_key"] = Read, ["trace.cosignature"] = Keep,
        ["trace.enrolment_code"] = All, ["trace.sign_on"] = Keep, ["trace.attempt"] = All, ["trace.session"] = All, ["trace.session_ended"] = All, ["trace.passkey_challenge"] = All, ["trace.passkey_use"] = Keep,
        ["trace.document"] = Add, ["trace.packet"] = Keep, ["trace.load_certificate"] = Add, ["trace.manifest"] = Add,
        ["trace.migration"] = Read,
        ["marten.mt_events"] = Add, ["marten.mt_streams"] = Keep, ["marten.mt_event_progression"] = Keep, ["marten.mt_event_projection_floors"] = Keep, ["marten.mt_doc_deadletterevent"] = Keep, ["marten.mt_high_water_skips"] = Keep,
        ["marten.mt_doc_device"] = Keep, ["marten.mt_doc_person"] = Keep, ["marten.mt_doc_unitrow"] = All,
    };

    /// <summary>Of the part that signs the log and the packets.</summary>
    public static IReadOnlyDictionary<string, string> Signer { get; } = new Dictionary<string, string>(StringComparer.Ordinal)
    {
        ["trace.record"] = Read, ["trace.log_leaf"] = Read, ["trace.log_leaf_superseded"] = Read,
        ["trace.log_tile"] = Keep, ["trace.checkpoint"] = Add, ["trace.log_origin"] = Add, ["trace.log_key"] = Keep, ["trace.cosignature"] = Keep,
        ["trace.manifest"] = "select, update", ["trace.packet"] = Read,
        ["trace.recorder"] = Read, ["trace.about"] = Read, ["trace.stale_unit"] = Read, ["trace.quarantine"] = Read, ["trace.parked"] = Read, ["trace.migration"] = Read,
        ["marten.mt_event_progression"] = Read,
    };

    /// <summary>Gives a role what is listed, and takes whatever else it had on the service's tables.</summary>
    /// <param name="connection">Of whoever owns the tables.</param>
    /// <exception cref="SettingException">There is no such role.</exception>
    public static async Task GrantAsync(NpgsqlConnection connection, string role, IReadOnlyDictionary<string, string> tables, CancellationToken cancel)
    {
        await using (var known = new NpgsqlCommand("select exists (select from pg_roles where rolname = $1)", connection) { Parameters = { new() { Value = role } } })
        {
            if (!(bool)(await known.ExecuteScalarAsync(cancel))!) throw new SettingException($"The database has no role {role}. Make it first, as one who may: create role {role} login password '...'; then call this again.");
        }

        await using (var owner = new NpgsqlCommand("select exists (select from pg_roles where rolname = $1 and (rolsuper or rolname = current_user)) or exists (select from pg_tables where schemaname in ('trace', 'marten') and tableowner = $1)", connection) { Parameters = { new() { Value = role } } })
        {
            if ((bool)(await owner.ExecuteScalarAsync(cancel))!) throw new SettingException($"{role} owns the tables or may do everything in the database: it cannot be held to less. Make a role of its own and name that.");
        }

        var to = new NpgsqlCommandBuilder().QuoteIdentifier(role);
        var sql = string.Concat(new[] { "trace", "marten" }.Select(schema => $"revoke all on all tables in schema {schema} from {to}; revoke all on all sequences in schema {schema} from {to}; grant usage on schema {schema} to {to};"))
            + string.Concat(tables.Select(t => $"grant {t.Value} on {t.Key} to {to};"))
            + (tables == Service ? $"grant usage, select on all sequences in schema trace to {to}; grant usage, select on all sequences in schema marten to {to};" : "");
        await using var transaction = await connection.BeginTransactionAsync(cancel);
        await using var command = new NpgsqlCommand(sql, connection, transaction);
        await command.ExecuteNonQueryAsync(cancel);
        await transaction.CommitAsync(cancel);
    }
}
