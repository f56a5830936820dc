using Microsoft.Extensions.DependencyInjection;
using Npgsql;
using Traceability.Core.Tests.Dossiers;
using Traceability.Service.Assembling;
using Traceability.Service.Recording;
using Traceability.Service.Tests.Hosting;

namespace Traceability.Service.Tests.Rules;

/// <summary>New records mark every unit they bear on, however many units a subject reaches; those that only a hub reached come last.</summary>
public sealed class Marking
{
    [Theory]
    [InlineData(1, 0)]
    [InlineData(2, 1)]
    [InlineData(3, 2)]
    [InlineData(4, MarkStale.Few)]
    public async Task A_page_of_new_records_marks_every_unit_whose_dossier_it_enters(int seed, int few)
    {
        var arriving = DossierGen.Shuffled(DossierGen.Example(seed, changes: 30).Events, seed);
        await using var host = await PlantHost.StartAsync(false, ["web"]);
        var recorder = host.Services.GetRequiredService<Recorder>();
        var (entered, hubs) = (0, 0);
        var from = 0L;
        foreach (var page in arriving.Chunk(17))
        {
            await recorder.RecordAsync([.. page.Select(e => new Received(e.Canonical.ToArray(), "device", "intake", e.Time))], CancellationToken.None);
            var to = await host.ScalarAsync("select max(position) from trace.record");
            var marked = await MarkAsync(host, few, from, to);
            foreach (var unit in await UnitsAsync(host))
            {
                if (!(await host.DossierAsync(unit)).Records.Any(r => r.Position > from)) continue;
                Assert.True(marked.ContainsKey("unit:" + unit), $"{unit} was not marked by the records {from} to {to}");
                entered++;
            }

            hubs += marked.Values.Count(p => p >= MarkStale.Hub);
            // What is about one unit and nothing else never makes it wait behind a hub.
            if (few > 0) Assert.All(await OwnAsync(host, from, to), u => Assert.True(marked[u] < MarkStale.Hub));
            from = to;
        }

        Assert.True(entered > 10);
        if (few is 0 or MarkStale.Few) Assert.Equal(few == 0, hubs > 0);
    }

    // In a transaction that is undone, so that every page starts from nothing marked.
    private static async Task<Dictionary<string, short>> MarkAsync(PlantHost host, int few, long from, long to)
    {
        await using var connection = await host.Database.OpenConnectionAsync();
        await using var transaction = await connection.BeginTransactionAsync();
        var number = 0;
        var sql = string.Concat(MarkStale.Sql(few).Select(c => c == '?' ? $"${++number}" : c.ToString()));
        await using (var mark = new NpgsqlCommand(sql, connection, transaction) { Parameters = { new() { Value = from }, new() { Value = to }, new() { Value = to } } }) await mark.ExecuteNonQueryAsync();
        var marked = new Dictionary<string, short>(StringComparer.Ordinal);
        await using (var read = new NpgsqlCommand("select unit, priority from trace.stale_unit", connection, transaction))
        await using (var row = await read.ExecuteReaderAsync())
        {
            while (await row.ReadAsync()) marked.Add(row.GetString(0), row.GetInt16(1));
        }

        await transaction.RollbackAsync();
        return marked;
    }

    private static Task<List<string>> UnitsAsync(PlantHost host) => ListAsync(host, "select distinct substr(subject, 6) from trace.about where subject like 'unit:%'");

    private static Task<List<string>> OwnAsync(PlantHost host, long from, long to) =>
        ListAsync(host, $"select distinct subject from trace.about where position > {from} and position <= {to} and subject like 'unit:%'");

    private static async Task<List<string>> ListAsync(PlantHost host, string sql)
    {
        var found = new List<string>();
        await using var command = host.Database.CreateCommand(sql);
        await using var row = await command.ExecuteReaderAsync();
        while (await row.ReadAsync()) found.Add(row.GetString(0));
        return found;
    }
}
