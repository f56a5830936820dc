using System.Diagnostics;
using Marten;
using Npgsql;
using RabbitMQ.Client;
using Spectre.Console.Cli;
using Traceability.Service.Intake;
using Traceability.Service.Log;
using Traceability.Service.Operations;
using Traceability.Service.People;

namespace Traceability.Service.Commands;

/// <summary>How one part of the installation is.</summary>
public enum Condition { Good, Watch, Wrong }

/// <summary>One thing looked at: how it is, what was seen, and what to do; empty when nothing is.</summary>
public sealed record Examined(string What, Condition Condition, string Seen, string Do = "");

/// <summary>
/// Examines the installation with the settings the service would run with, changes nothing, and says of each thing what to
/// do. Exit code 1 when something is wrong; what is only to be watched does not count.
/// </summary>
public sealed class DoctorVerb : AsyncCommand<VerbSettings>
{
    /// <summary>Free disk space below which writing may stop within days, and how far two clocks may be apart. Our own choices.</summary>
    private const double LeastFreeGiB = 5;

    private static readonly TimeSpan s_clocks = TimeSpan.FromSeconds(2);

    protected override async Task<int> ExecuteAsync(CommandContext context, VerbSettings settings, CancellationToken cancellationToken)
    {
        var terminal = (Terminal)context.Data!;
        var seen = new List<Examined>();
        try
        {
            await using var app = Operations.Host.Build(["--Roles=worker", "--Bus=inprocess", .. terminal.Settings.Where(s => !s.StartsWith("--Bus=", StringComparison.OrdinalIgnoreCase) && !s.StartsWith("--Roles=", StringComparison.OrdinalIgnoreCase))]);
            // The bus is looked at by itself: the parts above are built without it, whatever the settings say.
            var configuration = new ConfigurationBuilder().AddEnvironmentVariables().AddCommandLine([.. terminal.Settings]).Build();
            await ExamineAsync(app.Services, configuration, seen, cancellationToken);
        }
        catch (InvalidOperationException e) when (seen.Count == 0)
        {
            seen.Add(new("settings", Condition.Wrong, e.Message, "Set it in the environment (A__B) or as --A:B=value; docs/operations.md lists them."));
        }

        if (settings.Json) terminal.Json(seen);
        else
        {
            terminal.Table(["", "what", "seen", "what to do"], seen.Select(s => new[] { s.Condition switch { Condition.Good => "ok", Condition.Watch => "look", _ => "WRONG" }, s.What, s.Seen, s.Do }), "Nothing was looked at.");
        }

        return seen.Exists(s => s.Condition == Condition.Wrong) ? ExitCodes.Wrong : ExitCodes.Done;
    }

    private static async Task ExamineAsync(IServiceProvider services, IConfiguration configuration, List<Examined> seen, CancellationToken cancel)
    {
        Files(configuration, seen);
        await BrokerAsync(configuration, seen, cancel);
        var source = services.GetRequiredService<NpgsqlDataSource>();
        try
        {
            await using var connection = await source.OpenConnectionAsync(cancel);
            seen.Add(new("database", Condition.Good, $"PostgreSQL {connection.PostgreSqlVersion} answers at {connection.Host}:{connection.Port}, database {connection.Database}"));
            await SettingsAsync(connection, seen, cancel);
            if (!await SchemaAsync(connection, seen, cancel)) return;
            await ClockAsync(connection, services.GetRequiredService<TimeProvider>(), seen, cancel);
            await LagAsync(services.GetRequiredService<DaemonWatch>(), seen, cancel);
            await LogAsync(connection, configuration, seen, cancel);
            await ManifestsAsync(services, seen, cancel);
            await PeopleAsync(services, seen, cancel);
        }
        catch (Exception e) when (Connections.WhyNoDatabase(e) is { } why)
        {
            seen.Add(new("database", Condition.Wrong, why, "Check ConnectionStrings__Postgres, and the certificates as docs/operations.md says."));
        }
        catch (Exception e) when (Recording.Recorder.IsAway(e))
        {
            seen.Add(new("database", Condition.Wrong, $"it does not answer: {e.Message}", "Start PostgreSQL, and check host, port, user and password in ConnectionStrings__Postgres."));
        }
    }

    private static async Task SettingsAsync(NpgsqlConnection connection, List<Examined> seen, CancellationToken cancel)
    {
        var off = new List<string>();
        foreach (var setting in new[] { "fsync", "synchronous_commit", "full_page_writes" })
        {
            if (await TextAsync(connection, $"select current_setting('{setting}')", cancel) == "off") off.Add(setting);
        }

        seen.Add(off.Count == 0 ? new("durability", Condition.Good, "fsync, synchronous_commit and full_page_writes are on")
            : new("durability", Condition.Wrong, string.Join(", ", off) + " off: confirmed records can be lost", "Turn it on in PostgreSQL's settings before real use."));
        seen.Add(await TextAsync(connection, "select current_setting('idle_in_transaction_session_timeout')", cancel) is var idle && idle != "0"
            ? new("idle transactions", Condition.Good, $"are ended after {idle}")
            : new("idle transactions", Condition.Watch, "are never ended; one holds the subscriptions back", "Set idle_in_transaction_session_timeout to 60s."));
    }

    private static async Task<bool> SchemaAsync(NpgsqlConnection connection, List<Examined> seen, CancellationToken cancel)
    {
        var missing = await TextAsync(connection, """
            select coalesce(string_agg(t, ', '), '') from unnest(array['trace.record', 'trace.about', 'trace.link', 'trace.stale_unit', 'trace.unit_card', 'trace.reach', 'trace.judgement', 'trace.log_leaf', 'marten.mt_events', 'marten.mt_doc_unitrow']) t
            where to_regclass(t) is null
            """, cancel);
        seen.Add(missing.Length == 0 ? new("schema", Condition.Good, "every table is there")
            : new("schema", Condition.Wrong, $"not there: {missing}", "Start the service once with a user who may create tables; it makes what is missing."));
        return missing.Length == 0;
    }

    private static async Task ClockAsync(NpgsqlConnection connection, TimeProvider clock, List<Examined> seen, CancellationToken cancel)
    {
        await using var command = new NpgsqlCommand("select clock_timestamp()", connection);
        var apart = new DateTimeOffset((DateTime)(await command.ExecuteScalarAsync(cancel))!, TimeSpan.Zero) - TimeProvider.System.GetUtcNow();
        seen.Add(apart.Duration() <= s_clocks ? new("clock", Condition.Good, $"this machine's and the database's are {Math.Abs(apart.TotalMilliseconds):F0} ms apart")
            : new("clock", Condition.Wrong, $"this machine's and the database's are {apart.Duration()} apart", "Let both keep time by the network (NTP)."));
        if (clock is ScenarioClock)
            seen.Add(new("scenario clock", Condition.Watch, "is on: the administrator can set the time, and every record says so", "For demonstrations only; take Scenario__Clock out of the settings of a real plant."));
    }

    private static async Task LagAsync(DaemonWatch watch, List<Examined> seen, CancellationToken cancel)
    {
        var state = await watch.ReadAsync(cancel);
        var behind = state.Shards.Count == 0 ? state.Newest : state.Newest - state.Shards.Min(s => s.Value);
        seen.Add(behind > LagHealth.Behind ? new("subscriptions", Condition.Wrong, $"{behind} positions behind the newest record, {state.Newest}", "Start a worker, or look in its log why it does not go on.")
            : new("subscriptions", behind > 0 ? Condition.Watch : Condition.Good, $"{behind} positions behind the newest record, {state.Newest}", behind > 0 ? "Nothing, if a worker runs and this gets less." : ""));
        seen.Add(new("units to judge", state.StaleUnits > 0 ? Condition.Watch : Condition.Good, $"{state.StaleUnits} wait", state.StaleUnits > 0 ? "Nothing, if a worker runs and this gets less." : ""));
        seen.Add(new("quarantined", state.Quarantined > 0 ? Condition.Watch : Condition.Good, $"{state.Quarantined} wait", state.Quarantined > 0 ? "Look at them (quarantined list) and clear those that may count." : ""));
        seen.Add(new("parked", state.Parked > 0 ? Condition.Wrong : Condition.Good, $"{state.Parked} wait", state.Parked > 0 ? "Fix the cause that each names (parked list), then drive it through again (parked redrive)." : ""));
        seen.Add(new("seal", state.Unsealed > 10_000 ? Condition.Wrong : Condition.Good, $"{state.Unsealed} leaves not sealed yet", state.Unsealed > 10_000 ? "Start a signer, or look at log status." : ""));
    }

    private static async Task LogAsync(NpgsqlConnection connection, IConfiguration configuration, List<Examined> seen, CancellationToken cancel)
    {
        var latest = await LogReader.LatestAsync(connection, null, cancel);
        var folder = SignerFolder(configuration);
        try
        {
            if (SignerState.Read(Path.Combine(folder, "log-state.json")) is not { Note.Length: > 0 } own)
                seen.Add(new("signer's memory", latest is null ? Condition.Good : Condition.Watch, latest is null ? "nothing was signed yet" : $"none in {folder}, and the database has a log {latest.Origin}", latest is null ? "" : "Right when the signer runs on another machine; else look for its folder before anything is signed."));
            else if (latest is null || latest.Origin != own.Origin || latest.Size < own.Size)
                seen.Add(new("signer's memory", Condition.Wrong, $"it signed {own.Origin} up to {own.Size} leaves; the database has {(latest is null ? "no checkpoint" : $"{latest.Origin} up to {latest.Size}")}", "The database lost what was signed. Find out why before anything else; only then log new-origin."));
            else seen.Add(new("signer's memory", Condition.Good, $"{own.Origin}, {own.Size} leaves"));
        }
        catch (LogContradictionException e)
        {
            seen.Add(new("signer's memory", Condition.Wrong, e.Message, "Restore the file from a copy; do not delete it."));
        }
    }

    private static async Task ManifestsAsync(IServiceProvider services, List<Examined> seen, CancellationToken cancel)
    {
        var refused = await services.GetRequiredService<Packets.PacketStore>().RefusedAsync(DateTimeOffset.UnixEpoch, cancel);
        seen.Add(refused.Count == 0 ? new("manifests", Condition.Good, "the signer refused none")
            : new("manifests", Condition.Watch, $"the signer did not sign {string.Join("; ", refused.Take(5).Select(r => $"{r.Packet}: {r.Why}"))}", "Find out who wrote them into the database: the service itself records the issue first."));
    }

    private static async Task PeopleAsync(IServiceProvider services, List<Examined> seen, CancellationToken cancel)
    {
        await using var session = services.GetRequiredService<IDocumentStore>().QuerySession();
        var people = await session.Query<Person>().ToListAsync(cancel);
        var now = services.GetRequiredService<TimeProvider>().GetUtcNow();
        var administrators = people.Count(p => p.Roles.Contains(Core.Events.Roles.Administrator, StringComparer.Ordinal) && !(p.LapsedAt <= now));
        seen.Add(administrators > 0 ? new("people", Condition.Good, $"{people.Count} in the register, {administrators} of them administrators in force")
            : new("people", Condition.Wrong, "no administrator in force is in the register", "Name a file of first people (People__BootstrapFile) and start the service once."));
    }

    private static void Files(IConfiguration configuration, List<Examined> seen)
    {
        var folder = SignerFolder(configuration);
        var key = Path.Combine(folder, "log-key.pem");
        if (!File.Exists(key)) seen.Add(new("key file", Condition.Watch, $"none in {folder}", "Right when the signer runs on another machine, or never ran; it then makes one."));
        else if (!OperatingSystem.IsWindows() && (File.GetUnixFileMode(key) & (UnixFileMode.GroupRead | UnixFileMode.OtherRead | UnixFileMode.GroupWrite | UnixFileMode.OtherWrite)) != 0)
            seen.Add(new("key file", Condition.Wrong, $"{key} can be read by others", "Take it from them: mode 600, owned by the signer's user."));
        else seen.Add(new("key file", Condition.Good, $"{key}, for its owner alone"));
        foreach (var (name, path) in new[] { ("People:BootstrapFile", configuration["People:BootstrapFile"]), ("People:CopyFile", configuration["People:CopyFile"]) })
        {
            if (path is not { Length: > 0 }) continue;
            if (!File.Exists(path)) seen.Add(new(name, Condition.Watch, $"{path} is not there", name.EndsWith("CopyFile", StringComparison.Ordinal) ? "The service writes it at its next start." : "Right once the first people are in; else give the path again."));
            else if (!OperatingSystem.IsWindows() && (File.GetUnixFileMode(path) & UnixFileMode.OtherRead) != 0) seen.Add(new(name, Condition.Wrong, $"{path} holds secrets or their hashes and can be read by everybody", "Mode 600, owned by the service's user."));
            else seen.Add(new(name, Condition.Good, path));
        }

        foreach (var disk in new[] { folder, Path.GetTempPath() }.Select(p => Path.GetFullPath(p)).Distinct(StringComparer.Ordinal))
        {
            var there = disk;
            while (!Directory.Exists(there)) there = Path.GetDirectoryName(there)!;
            var free = new DriveInfo(there).AvailableFreeSpace / 1073741824d;
            seen.Add(new("disk", free < LeastFreeGiB ? Condition.Wrong : Condition.Good, $"{free:F0} GiB free at {there}", free < LeastFreeGiB ? "Make room; PostgreSQL and the broker stop taking facts on a full disk." : ""));
        }
    }

    private static async Task BrokerAsync(IConfiguration configuration, List<Examined> seen, CancellationToken cancel)
    {
        if (configuration["Bus"] != "rabbitmq")
        {
            seen.Add(new("broker", Condition.Good, "not asked for: facts go in-process (Bus is not rabbitmq)"));
            return;
        }

        BrokerConnection broker;
        try
        {
            broker = BrokerConnection.Of(configuration);
        }
        catch (SettingException e)
        {
            seen.Add(new("broker", Condition.Wrong, e.Message, "Set ConnectionStrings__RabbitMq, and what docs/operations.md names beside it."));
            return;
        }

        try
        {
            var watch = Stopwatch.StartNew();
            var factory = broker.Factory();
            factory.RequestedConnectionTimeout = TimeSpan.FromSeconds(5);
            await using var connection = await factory.CreateConnectionAsync(cancel);
            await using var channel = await connection.CreateChannelAsync(cancellationToken: cancel);
            var queue = BusTopology.QueueName(configuration);
            var state = await channel.QueueDeclarePassiveAsync(queue, cancel);
            seen.Add(new("broker", Condition.Good, $"answers in {watch.ElapsedMilliseconds} ms; {state.MessageCount} messages in {queue}, {state.ConsumerCount} consumers"));
        }
        catch (Exception e) when (e is not OperationCanceledException)
        {
            seen.Add(new("broker", Condition.Wrong, $"{broker.Where}: {broker.WhyNot(e) ?? (e.InnerException ?? e).Message}", "Start RabbitMQ, check the address; the service makes the queue at its start."));
        }
    }

    private static string SignerFolder(IConfiguration configuration) => configuration["Signer:Folder"] ?? Path.Combine(AppContext.BaseDirectory, "signer");

    private static async Task<string> TextAsync(NpgsqlConnection connection, string sql, CancellationToken cancel)
    {
        await using var command = new NpgsqlCommand(sql, connection);
        return (string)(await command.ExecuteScalarAsync(cancel))!;
    }
}
