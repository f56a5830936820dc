using DbUp;
using DbUp.Engine;
using DbUp.Engine.Output;
using Marten;
using Npgsql;

namespace Traceability.Service.Operations;

/// <summary>
/// The tables: the service's own by numbered scripts (Migrations/), each run once and noted in trace.migration; the events' and documents' by Marten, which owns them.
/// </summary>
public static class Schema
{
    private const string Scripts = "Traceability.Service.Migrations.", Journal = "migration";

    /// <summary>Names of the scripts, in the order in which they run.</summary>
    public static IReadOnlyList<string> Names { get; } =
        [.. typeof(Schema).Assembly.GetManifestResourceNames().Where(n => n.StartsWith(Scripts, StringComparison.Ordinal)).Order(StringComparer.Ordinal)];

    /// <summary>Scripts that a database still needs.</summary>
    /// <exception cref="SettingException">The database was migrated by a newer version of this program.</exception>
    public static async Task<IReadOnlyList<string>> OutstandingAsync(NpgsqlDataSource source, CancellationToken cancel)
    {
        var done = new List<string>();
        await using var connection = await source.OpenConnectionAsync(cancel);
        await using (var known = new NpgsqlCommand($"select to_regclass('trace.{Journal}') is not null", connection))
        {
            if (!(bool)(await known.ExecuteScalarAsync(cancel))!) return Names;
        }

        await using var command = new NpgsqlCommand($"select scriptname from trace.{Journal}", connection);
        await using var row = await command.ExecuteReaderAsync(cancel);
        while (await row.ReadAsync(cancel)) done.Add(row.GetString(0));
        if (done.Except(Names, StringComparer.Ordinal).Order(StringComparer.Ordinal).FirstOrDefault() is { } newer)
            throw new SettingException($"The database was migrated by a newer version of this program ({Short(newer)}); this one would not understand it. Start the newer version, or restore the backup that was made before the migration.");
        return [.. Names.Except(done, StringComparer.Ordinal)];
    }

    /// <summary>Runs what a database still needs. Several processes may start at once: one does it, the others wait and find it done.</summary>
    /// <param name="connection">An Npgsql connection string whose user may make tables.</param>
    /// <returns>Names of the scripts that were run.</returns>
    public static async Task<IReadOnlyList<string>> MigrateAsync(NpgsqlDataSource source, string connection, IDocumentStore? marten, CancellationToken cancel)
    {
        await using var turn = await TurnAsync(source, cancel);
        var outstanding = await OutstandingAsync(source, cancel);
        if (outstanding.Count > 0)
        {
            await using (var schema = source.CreateCommand("create schema if not exists trace")) await schema.ExecuteNonQueryAsync(cancel);
            var messages = new Messages();
            var result = DeployChanges.To.PostgresqlDatabase(connection)
                .WithScriptsEmbeddedInAssembly(typeof(Schema).Assembly, n => n.StartsWith(Scripts, StringComparison.Ordinal))
                .JournalToPostgresqlTable("trace", Journal)
                // A dollar in a function's body is no variable.
                .WithVariablesDisabled().WithTransactionPerScript().LogTo(messages).Build().PerformUpgrade();
            if (!result.Successful) throw new InvalidOperationException($"Migration {Short(result.ErrorScript?.Name ?? "")} failed and changed nothing: {result.Error?.Message}", result.Error);
        }

        if (marten is not null) await marten.Storage.ApplyAllConfiguredChangesToDatabaseAsync(JasperFx.AutoCreate.CreateOrUpdate);
        return [.. outstanding.Select(Short)];
    }

    /// <summary>A script's name without what all have in common: "0001-tables".</summary>
    public static string Short(string name) => name.Replace(Scripts, "", StringComparison.Ordinal).Replace(".sql", "", StringComparison.Ordinal);

    private static async Task<NpgsqlConnection> TurnAsync(NpgsqlDataSource source, CancellationToken cancel)
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

    // What the library says of each step is told by the names that are returned; an error comes as one.
    private sealed class Messages : IUpgradeLog
    {
        public void LogTrace(string format, params object[] args)
        {
        }

        public void LogDebug(string format, params object[] args)
        {
        }

        public void LogInformation(string format, params object[] args)
        {
        }

        public void LogWarning(string format, params object[] args)
        {
        }

        public void LogError(string format, params object[] args)
        {
        }

        public void LogError(Exception ex, string format, params object[] args)
        {
        }
    }
}
