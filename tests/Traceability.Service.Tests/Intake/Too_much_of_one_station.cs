using System.Net;
using System.Net.Http.Json;
using System.Text;
using System.Text.Json;
using Microsoft.Extensions.DependencyInjection;
using Traceability.Core.Records;
using Traceability.PlantSimulator.Story;
using Traceability.Service.Intake;
using Traceability.Service.Recording;
using Traceability.Service.Tests.Hosting;

namespace Traceability.Service.Tests.Intake;

/// <summary>A station that sends more than one may is asked to wait, and no other is.</summary>
public sealed class Too_much_of_one_station
{
    private static HttpContent Batch(string source, int from, int count)
    {
        var facts = Enumerable.Range(from, count).Select(i => new
        {
            specversion = "1.0", id = $"much-{i}", source, type = "form.oiled.v1", time = "2026-03-02T09:30:00-05:00", person = Plant.FormForeman.Id, data = new { form = "F-1", unit = $"U-{i % 7}", releaseAgent = "A" },
        });
        return new StringContent(JsonSerializer.Serialize(facts), Encoding.UTF8, "application/cloudevents-batch+json");
    }

    [Fact]
    public async Task Facts_over_the_limit_of_a_device_are_asked_to_come_later_and_other_devices_behind_the_same_address_are_not()
    {
        await using var host = await PlantHost.StartAsync(false, ["worker"]);
        using var limits = new DeviceLimits(facts: 40, perSecond: 1);
        await host.AddAsync("web", b => b.Services.AddSingleton(limits));
        using var http = new HttpClient();
        async Task<HttpResponseMessage> SendAsync(Station station, int from, int count) => await http.SendAsync(host.DeviceRequest(HttpMethod.Post, "/v1/facts", station.Device, Batch(station.Source, from, count)));

        Assert.Equal(HttpStatusCode.OK, (await SendAsync(Plant.FormHall, 0, 40)).StatusCode);
        using var refused = await SendAsync(Plant.FormHall, 40, 15);
        Assert.Equal(HttpStatusCode.TooManyRequests, refused.StatusCode);
        var seconds = refused.Headers.RetryAfter!.Delta!.Value.TotalSeconds;
        Assert.InRange(seconds, 1, 15);
        var problem = await refused.Content.ReadFromJsonAsync<JsonElement>();
        Assert.Equal("/problems/too-many", problem.GetProperty("type").GetString());
        Assert.Contains($"keep the facts and send them again in {seconds:0} second", problem.GetProperty("detail").GetString(), StringComparison.Ordinal);
        // By the device that proved itself: not by address, and not by the name that somebody else gives.
        Assert.Equal(HttpStatusCode.OK, (await SendAsync(Plant.CageShop, 100, 30)).StatusCode);
        // Nothing of what was refused is there; a station of the simulator that waits as it is asked brings all of it.
        const string one = "select count(*) from trace.record where position(convert_to('much-40\"', 'UTF8') in bytes) > 0";
        Assert.Equal(0, await host.ScalarAsync(one));
        using var stations = host.Stations();
        using var text = Batch(Plant.FormHall.Source, 40, 15);
        using var facts = JsonDocument.Parse(await text.ReadAsStringAsync());
        await stations.RecordAsync(Plant.FormHall.Device, [.. facts.RootElement.EnumerateArray().Select(f => CloudEvent.Read(Encoding.UTF8.GetBytes(f.GetRawText())))], CancellationToken.None);
        Assert.Equal(1, await host.ScalarAsync(one));
    }

    [Fact]
    public async Task Of_many_requests_of_one_device_some_wait_their_turn_and_the_rest_come_again_while_another_device_goes_on()
    {
        await using var host = await PlantHost.StartAsync(false, ["worker"]);
        using var limits = new DeviceLimits(atOnce: 2, waiting: 3);
        var held = new Held();
        await host.AddAsync("web", b => b.Services.AddSingleton(limits).AddSingleton<IHandover>(held));
        using var http = new HttpClient();
        async Task<HttpStatusCode> SendAsync(Station station, int from)
        {
            using var answer = await http.SendAsync(host.DeviceRequest(HttpMethod.Post, "/v1/facts", station.Device, Batch(station.Source, from, 1)));
            return answer.StatusCode;
        }

        var sent = Enumerable.Range(0, 9).Select(i => SendAsync(Plant.FormHall, i)).ToList();
        await PlantHost.EventuallyAsync(() => Task.FromResult(sent.Count(s => s.IsCompleted) == 4 && held.Count == 2), "four are asked to come again, two are handled", 20);
        Assert.All(sent.Where(s => s.IsCompleted), s => Assert.Equal(HttpStatusCode.TooManyRequests, s.Result));
        var other = SendAsync(Plant.CageShop, 100);
        await PlantHost.EventuallyAsync(() => Task.FromResult(held.Count == 3), "the other device is handled", 20);
        held.Go.SetResult();
        Assert.Equal(HttpStatusCode.OK, await other);
        Assert.Equal(5, (await Task.WhenAll(sent)).Count(s => s == HttpStatusCode.OK));
    }

    /// <summary>Holds what is handed over until it is told to go on.</summary>
    private sealed class Held : IHandover
    {
        private int _count;

        public TaskCompletionSource Go { get; } = new(TaskCreationOptions.RunContinuationsAsynchronously);

        public int Count => Volatile.Read(ref _count);

        public async Task<IReadOnlyList<Outcome>?> HandAsync(IReadOnlyList<Received> entries, CancellationToken cancel)
        {
            Interlocked.Increment(ref _count);
            await Go.Task.WaitAsync(cancel);
            return null;
        }
    }
}
