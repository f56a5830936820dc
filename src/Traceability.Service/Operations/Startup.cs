using Npgsql;

namespace Traceability.Service.Operations;

/// <summary>Warns loudly when the database would lose what it confirmed.</summary>
public static partial class Startup
{
    private static readonly string[] Durable = ["fsync", "synchronous_commit", "full_page_writes"];

    public static async Task<IReadOnlyList<string>> CheckDurabilityAsync(NpgsqlDataSource source, ILogger log, CancellationToken cancel)
    {
        var off = new List<string>();
        await using var connection = await source.OpenConnectionAsync(cancel);
        foreach (var setting in Durable)
        {
            await using var command = new NpgsqlCommand("select current_setting($1)", connection) { Parameters = { new() { Value = setting } } };
            var value = (string)(await command.ExecuteScalarAsync(cancel))!;
            if (value is not "off") continue;
            off.Add(setting);
            LogOff(log, setting);
        }

        return off;
    }

    [LoggerMessage(LogLevel.Critical, "PostgreSQL setting {Setting} is off: records that were confirmed can be lost when the machine fails. Turn it on before real use")]
    private static partial void LogOff(ILogger logger, string setting);
}
