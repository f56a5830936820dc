using System.Net;
using System.Net.Http.Json;
using Microsoft.AspNetCore.Builder;
using Microsoft.Extensions.DependencyInjection;
using Npgsql;
using Traceability.PlantSimulator.Story;
using Traceability.Service.People;
using Traceability.Service.Tests.Hosting;

namespace Traceability.Service.Tests.People;

/// <summary>Wrong tries, counted for every process, over restarts, by person, device and address.</summary>
public sealed class Guessing
{
    private static async Task<HttpStatusCode> SignOnAsync(PlantHost host, WebApplication app, string device, string person, string pin)
    {
        using var http = new HttpClient();
        using var request = host.DeviceRequest(HttpMethod.Post, "/v1/kiosk/sign-on", device, JsonContent.Create(new { person, pin }));
        request.RequestUri = new Uri(new Uri(app.Urls.First()), "/v1/kiosk/sign-on");
        using var answer = await http.SendAsync(request);
        return answer.StatusCode;
    }

    [Fact]
    public async Task A_burst_over_two_processes_gets_no_more_tries_than_one_after_the_other_and_a_restart_forgives_nothing()
    {
        await using var host = await PlantHost.StartAsync(false, ["web"]);
        var second = await host.AddAsync("web");
        var person = host.Credentials.Person(Plant.Inspector.Id);
        var answers = await Task.WhenAll(Enumerable.Range(0, 24).Select(i => SignOnAsync(host, i % 2 == 0 ? host.App : second, Plant.Inspection.Device, person.Id, "000001")));
        Assert.Equal(5, answers.Count(a => a == HttpStatusCode.Unauthorized));
        Assert.Equal(19, answers.Count(a => a == HttpStatusCode.TooManyRequests));
        await host.StopAsync(second);
        var third = await host.AddAsync("web");
        Assert.Equal(HttpStatusCode.TooManyRequests, await SignOnAsync(host, third, Plant.Inspection.Device, person.Id, person.Pin));
    }

    [Fact]
    public async Task A_device_that_tries_one_pin_for_everybody_is_stopped_and_another_device_is_not()
    {
        await using var host = await PlantHost.StartAsync(false, ["web"]);
        for (var i = 0; i < 20; i++) Assert.Equal(HttpStatusCode.Unauthorized, await SignOnAsync(host, host.App, Plant.Yard.Device, $"p-{8000 + i}", "271828"));
        var person = host.Credentials.Person(Plant.Inspector.Id);
        Assert.Equal(HttpStatusCode.TooManyRequests, await SignOnAsync(host, host.App, Plant.Yard.Device, person.Id, person.Pin));
        Assert.Equal(HttpStatusCode.OK, await SignOnAsync(host, host.App, Plant.Inspection.Device, person.Id, person.Pin));
    }

    [Fact]
    public async Task Ids_that_nobody_has_fill_nothing_however_long_they_are()
    {
        await using var host = await PlantHost.StartAsync(false, ["web"]);
        var signing = host.Services.GetRequiredService<Signing>();
        for (var i = 0; i < 50; i++) Assert.Equal(401, signing.Password(new string('x', 20_000) + i, "guess").Problem!.Status);
        Assert.True(await host.ScalarAsync("select max(length(key)) from trace.attempt") < 60);
    }

    [Fact]
    public void The_wait_grows_from_five_minutes_to_an_hour()
    {
        Assert.Equal([0, 5, 10, 20, 40, 60, 60], new[] { 4, 5, 6, 7, 8, 9, 500 }.Select(n => Attempts.Wait(n, 5).TotalMinutes));
    }

    [Fact]
    public async Task While_the_database_is_away_each_process_counts_for_itself()
    {
        await using var away = NpgsqlDataSource.Create("Host=127.0.0.1;Port=1;Username=nobody;Database=nothing");
        var attempts = new Attempts(away, TimeProvider.System);
        AttemptCount[] counts = [AttemptCount.Person("pin", "p-1", true), AttemptCount.Device("k-1")];
        for (var i = 0; i < 5; i++) Assert.Null(attempts.Take(counts));
        Assert.True(attempts.Take(counts) > TimeSpan.FromMinutes(4));
        Assert.Null(attempts.Take([AttemptCount.Person("pin", "p-2", true), AttemptCount.Device("k-1")]));
        attempts.WasRight(counts);
        Assert.Null(attempts.Take(counts));
    }

    [Fact]
    public async Task When_the_database_goes_away_nobody_begins_anew()
    {
        await using var host = await PlantHost.StartAsync(false, ["web"]);
        var attempts = host.Services.GetRequiredService<Attempts>();
        AttemptCount[] counts = [AttemptCount.Person("pin", "p-1", true)];
        for (var i = 0; i < 5; i++) Assert.Null(attempts.Take(counts));
        await host.ExecuteAsync("drop table trace.attempt");
        Assert.True(attempts.Take(counts) > TimeSpan.FromMinutes(4));
    }
}
